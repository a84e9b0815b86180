#include "tools/desk/fields/point_field.h"

#include <QCompleter>

namespace desk {

PointField::PointField(DeskSession* session, const QString& object_name, const QString& tip,
                       bool may_be_empty, QWidget* parent)
    : TypedField(
          object_name, tip,
          [session, may_be_empty](const QString& text) -> calib::Result<QString, QString> {
            if (text.isEmpty() && may_be_empty) return QString();
            if (text.isEmpty()) {
              return calib::Unexpected(tr("Pick a point in any view, or type its name."));
            }
            if (session->dossier().find_point(text.toStdString())) return QString();
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
  connect(session_, &DeskSession::dossier_changed, this, &PointField::fill);
  fill();
}

std::string PointField::point() const {
  const std::string name = text().toStdString();
  return session_->dossier().find_point(name) ? name : std::string();
}

void PointField::fill() {
  QStringList names;
  for (const measure::Point& point : session_->dossier().points) {
    names.push_back(QString::fromStdString(point.name));
  }
  if (names != names_->stringList()) names_->setStringList(names);
  judge_again();
}

}  // namespace desk
