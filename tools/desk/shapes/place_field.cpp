#include "tools/desk/shapes/place_field.h"

#include <QCompleter>

#include "measure/shapes/form.h"

namespace desk {
namespace {

bool is_place_of(const measure::Dossier& dossier, const std::string& name) {
  const auto form = measure::form_of(dossier, name);
  return form && measure::is_place(*form);
}

}  // namespace

PlaceField::PlaceField(DeskSession* session, const QString& object_name, const QString& tip,
                       bool may_be_empty, QWidget* parent)
    : TypedField(
          object_name, tip,
          [session, may_be_empty](const QString& text) -> calib::Result<QString, QString> {
            if (text.isEmpty() && may_be_empty) return QString();
            if (text.isEmpty()) {
              return calib::Unexpected(tr("Pick a point in any view, or type its name."));
            }
            const std::string name = text.toStdString();
            if (is_place_of(session->dossier(), name)) return QString();
            if (session->dossier().find_shape(name)) {
              return calib::Unexpected(
                  tr("\"%1\" has no centre: pick a point, a circle, a sphere or a cone.")
                      .arg(text));
            }
            return calib::Unexpected(
                tr("There is no point \"%1\": pick one, or choose from the list.").arg(text));
          },
          parent),
      session_(session),
      names_(new QStringListModel(this)) {
  auto* completer = new QCompleter(names_, this);
  completer->setCaseSensitivity(Qt::CaseInsensitive);
  completer->setFilterMode(Qt::MatchContains);
  edit()->setCompleter(completer);
  edit()->setPlaceholderText(tr("point"));
  edit()->setMinimumWidth(130);
  connect(session_, &DeskSession::dossier_changed, this, &PlaceField::fill);
  fill();
}

std::string PlaceField::place() const {
  const std::string name = text().toStdString();
  return is_place_of(session_->dossier(), name) ? name : std::string();
}

void PlaceField::fill() {
  QStringList names;
  for (const measure::Point& point : session_->dossier().points) {
    names.push_back(QString::fromStdString(point.name));
  }
  for (const measure::Shape& shape : session_->dossier().shapes) {
    if (is_place_of(session_->dossier(), shape.name)) {
      names.push_back(QString::fromStdString(shape.name));
    }
  }
  if (names != names_->stringList()) names_->setStringList(names);
  judge_again();
}

}  // namespace desk
