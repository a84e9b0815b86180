// Sentences for the person, at the top of the window: nothing has to be clicked away before work
// goes on.
#pragma once

#include <QFrame>
#include <QLabel>
#include <QTimer>

namespace desk {

class MessageBar : public QFrame {
  Q_OBJECT
 public:
  explicit MessageBar(QWidget* parent = nullptr);

  enum class Kind {
    kNote,     ///< good to know; goes by itself
    kRefused,  ///< something was not done; goes by itself, later
    kStanding  ///< stays until it is dismissed or replaced by another of its kind
  };
  void say(const QString& sentence, Kind kind);
  [[nodiscard]] QString text() const { return words_->text(); }

 private:
  QLabel* words_;
  QTimer going_;
};

}  // namespace desk
