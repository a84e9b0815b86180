// A point of the dossier, typed with completion or picked in any view.
#pragma once

#include <QStringListModel>

#include "tools/desk/fields/typed_field.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

class PointField : public TypedField {
  Q_OBJECT
 public:
  PointField(DeskSession* session, const QString& object_name, const QString& tip,
             bool may_be_empty = false, QWidget* parent = nullptr);

  /// The point, or empty where what is typed is none.
  [[nodiscard]] std::string point() const;

 private:
  void fill();

  DeskSession* session_;
  QStringListModel* names_;
};

}  // namespace desk
