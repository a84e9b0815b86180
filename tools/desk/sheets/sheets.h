// What leaves for the workshop: chosen, seen as it will print, written.
#pragma once

#include <QCheckBox>
#include <QComboBox>
#include <QDir>
#include <QLineEdit>
#include <QProgressBar>
#include <QPushButton>
#include <QTemporaryDir>
#include <QTreeWidget>
#include <QVariantMap>
#include <memory>
#include <vector>

#include "tools/desk/fields/sentence_label.h"
#include "tools/desk/fields/typed_field.h"
#include "tools/desk/look/key_book.h"
#include "tools/desk/session/desk_session.h"
#include "tools/desk/sheets/file_view.h"
#include "tools/desk/sheets/name_choice.h"
#include "tools/desk/sheets/sheet_maker.h"
#include "tools/desk/tables/tolerance.h"

namespace desk {

class Sheets : public QWidget {
  Q_OBJECT
 public:
  Sheets(DeskSession* session, KeyBook* keys, Tolerance* tolerance, QWidget* parent = nullptr);

  /// Makes what is chosen and shows it; writes nothing.
  void make();
  void cancel();
  /// Writes what is shown; what is stale or not made yet is made first.
  void write_to(const QString& folder);
  void choose_file(const QString& name);  ///< "templates/1-72 from above.pdf"

  [[nodiscard]] const SheetMaker& maker() const { return maker_; }
  [[nodiscard]] FileView* view() const { return view_; }
  /// What was typed and ticked, to be kept beside the settings. Not the date: it is today's.
  [[nodiscard]] QVariantMap kept() const;
  void restore(const QVariantMap& kept);

 Q_SIGNALS:
  void said(const QString& sentence);
  void choices_changed();

 private:
  QWidget* make_choices();
  QWidget* make_files(const std::vector<QAction*>& looks);
  void connect_choices();
  void fill_names();
  void propose_day();
  void change_wish();
  /// Whether what was made is what is chosen now, of the dossier as it is now.
  [[nodiscard]] bool is_current() const { return maker_.is_fresh() && made_wish_ == wish_; }
  void follow();
  void show_made();
  void show_chosen();
  void ask_folder();
  void open_elsewhere();
  [[nodiscard]] std::optional<SheetWish> wish();
  [[nodiscard]] const measure::SheetFile* chosen_file() const;

  DeskSession* session_;
  Tolerance* tolerance_;
  SheetMaker maker_;
  QCheckBox *dimensions_, *templates_, *data_;
  QComboBox *paper_, *onto_;
  TypedField *replicas_, *date_;
  QLineEdit* measured_by_;
  NameChoice *only_, *draw_;
  QPushButton *make_, *cancel_, *write_, *elsewhere_;
  QProgressBar* progress_;
  SentenceLabel* sentence_;
  QTreeWidget* files_;
  FileView* view_;
  // Numbers of what is chosen now, of what is being made, and of what the files were made from.
  int wish_ = 0, asked_wish_ = 0, made_wish_ = 0;
  QString proposed_day_;
  QString write_folder_;  ///< where to, once they are made anew; empty: they are only shown
  QString last_folder_;
  std::unique_ptr<QTemporaryDir> elsewhere_folder_;  ///< of files that other programs show
};

}  // namespace desk
