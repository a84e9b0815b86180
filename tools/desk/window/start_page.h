// What stands in the window while no dossier is open.
#pragma once

#include <QListWidget>
#include <QStringList>
#include <QWidget>

namespace desk {

/// New, open, and the dossiers that were open last.
class StartPage : public QWidget {
  Q_OBJECT
 public:
  explicit StartPage(QWidget* parent = nullptr);
  void set_recent(const QStringList& folders);

 Q_SIGNALS:
  void new_asked();
  void open_asked();
  void recent_asked(const QString& folder);

 private:
  QListWidget* recent_;
};

}  // namespace desk
