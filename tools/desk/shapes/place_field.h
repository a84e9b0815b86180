// A place of the original by name: a point, or a shape that counts by its centre or apex.
#pragma once

#include <QStringListModel>

#include "tools/desk/fields/typed_field.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

/// Typed with completion, or picked in any view.
class PlaceField : public TypedField {
  Q_OBJECT
 public:
  PlaceField(DeskSession* session, const QString& object_name, const QString& tip,
             bool may_be_empty = false, QWidget* parent = nullptr);

  /// The name, or empty where what is typed is no place.
  [[nodiscard]] std::string place() const;

 private:
  void fill();

  DeskSession* session_;
  QStringListModel* names_;
};

}  // namespace desk
