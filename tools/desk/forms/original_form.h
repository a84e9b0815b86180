// What is true of the original as a whole: name, ratios, temperature, expansion.
#pragma once

#include "tools/desk/fields/form.h"
#include "tools/desk/forms/scale_fields.h"
#include "tools/desk/forms/uncertain_field.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

class OriginalForm : public Form {
  Q_OBJECT
 public:
  explicit OriginalForm(DeskSession* session, QWidget* parent = nullptr);
  void show_dossier();  ///< fills the fields with what stands in the dossier

 protected:
  void act() override;

 private:
  DeskSession* session_;
  TypedField* name_;
  ScaleFields scales_;
  UncertainField* temperature_;
  UncertainField* expansion_;
};

}  // namespace desk
