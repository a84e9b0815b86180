// A new dossier: its folder, its name, the ratios if there are any.
#pragma once

#include <filesystem>

#include "tools/desk/fields/form.h"
#include "tools/desk/forms/scale_fields.h"

namespace desk {

class NewDossierForm : public Form {
  Q_OBJECT
 public:
  explicit NewDossierForm(QWidget* parent = nullptr);

 Q_SIGNALS:
  void made(const std::filesystem::path& folder);

 protected:
  void act() override;

 private:
  [[nodiscard]] QString name() const;

  TypedField* folder_;
  TypedField* name_;
  ScaleFields scales_;
};

}  // namespace desk
