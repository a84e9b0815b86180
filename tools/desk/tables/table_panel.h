// A table with its filter line, its actions and, where it is empty, what to do next.
#pragma once

#include <QAction>
#include <QHBoxLayout>
#include <QLabel>
#include <QLineEdit>
#include <QStackedLayout>
#include <QTableView>
#include <QTimer>
#include <QWidget>
#include <set>

#include "tools/desk/look/key_book.h"
#include "tools/desk/session/desk_session.h"
#include "tools/desk/tables/keyed_table.h"

namespace desk {

/// Object names: NAME, NAME.view, NAME.filter, NAME.empty.
class TablePanel : public QWidget {
  Q_OBJECT
 public:
  /// @param place  in the list of keys: "Points".
  TablePanel(const QString& object_name, const QString& place, DeskSession* session, KeyBook* keys,
             QWidget* parent);

  [[nodiscard]] QTableView* view() const { return view_; }
  [[nodiscard]] QLineEdit* filter_line() const { return filter_; }
  [[nodiscard]] QString current_key() const;
  [[nodiscard]] QStringList selected_keys() const;
  /// Chooses the row without saying so; a row that the filter hides leaves nothing chosen.
  void show_key(const QString& key);

 Q_SIGNALS:
  void key_chosen(const QString& key);     ///< by the person
  void key_activated(const QString& key);  ///< Enter or a double click

 protected:
  void take_model(KeyedTable* model);
  [[nodiscard]] KeyedTable* model() const { return model_; }
  [[nodiscard]] KeyedOrder* order() const { return order_; }
  [[nodiscard]] DeskSession* session() const { return session_; }
  /// Between the filter line and the count.
  [[nodiscard]] QHBoxLayout* bar() const { return bar_; }
  void set_empty_sentence(const QString& sentence);
  QAction* add_action(const QString& id, const QString& text, const QString& tip,
                      const QKeySequence& key, std::function<void()> what);
  /// "12 points", "3 of 12 points".
  virtual QString count_text(int shown, int all) const = 0;

 private:
  void follow();
  void fit_columns();
  void widen_columns();

  QString place_;
  DeskSession* session_;
  KeyBook* keys_;
  KeyedTable* model_ = nullptr;
  KeyedOrder* order_;
  QTableView* view_;
  QLineEdit* filter_;
  QHBoxLayout* bar_;
  QLabel* count_;
  QLabel* empty_;
  QStackedLayout* stack_;
  bool showing_ = false;
  int fitted_columns_ = 0;
  bool fitting_ = false;
  std::set<int> sized_by_person_;  // columns that keep their width
  QTimer widen_;
  QString wanted_key_;
};

}  // namespace desk
