#include "tools/desk/sheets/sheets.h"

#include <QAction>
#include <QDate>
#include <QDesktopServices>
#include <QFileDialog>
#include <QFormLayout>
#include <QHBoxLayout>
#include <QHeaderView>
#include <QScrollArea>
#include <QSignalBlocker>
#include <QSplitter>
#include <QToolButton>
#include <QUrl>
#include <QVBoxLayout>
#include <algorithm>

#include "calib/file/atomic_write.h"
#include "measure/sheet/day.h"
#include "tools/desk/fields/typed_value.h"

namespace desk {
namespace {

constexpr int kProgressSteps = 1000;
const QString kRemarks = QStringLiteral("?");  // no file is called so

QString q(const std::string& text) { return QString::fromStdString(text); }

void fill(QComboBox* box, const std::vector<std::pair<QString, QString>>& words_and_data) {
  const QVariant kept = box->currentData();
  const QSignalBlocker quiet(box);
  box->clear();
  for (const auto& [words, data] : words_and_data) box->addItem(words, data);
  box->setCurrentIndex(std::max(0, box->findData(kept)));
}

QStringList list_of(const std::vector<std::string>& names) {
  QStringList list;
  for (const std::string& name : names) list.push_back(q(name));
  return list;
}

std::vector<std::string> names_of(const QStringList& list) {
  std::vector<std::string> names;
  for (const QString& name : list) names.push_back(name.toStdString());
  return names;
}

/// A button that does what the action does, and says its key.
QPushButton* button_of(QAction* action, const QString& object_name) {
  auto* button = new QPushButton(action->text());
  button->setObjectName(object_name);
  button->setToolTip(action->toolTip());
  QObject::connect(action, &QAction::changed, button,
                   [action, button] { button->setToolTip(action->toolTip()); });
  QObject::connect(button, &QPushButton::clicked, action, &QAction::trigger);
  return button;
}

}  // namespace

Sheets::Sheets(DeskSession* session, KeyBook* keys, Tolerance* tolerance, QWidget* parent)
    : QWidget(parent), session_(session), tolerance_(tolerance), maker_(session) {
  setObjectName(QStringLiteral("sheets"));
  setFocusPolicy(Qt::StrongFocus);
  const QString place = tr("Sheets");
  QAction* make_action =
      keys->add(this, place, QStringLiteral("sheets.make"), tr("Make the sheets"),
                tr("Make what is chosen and show it; nothing is written yet"),
                QKeySequence(Qt::CTRL | Qt::Key_Return), [this] { make(); });
  QAction* write_action =
      keys->add(this, place, QStringLiteral("sheets.write"), tr("Write to a folder …"),
                tr("Write all files that are listed"), QKeySequence(Qt::CTRL | Qt::Key_E),
                [this] { ask_folder(); });
  QAction* elsewhere_action =
      keys->add(this, place, QStringLiteral("sheets.elsewhere"), tr("Open elsewhere"),
                tr("Open the chosen file in the program this computer has for it"),
                QKeySequence(Qt::CTRL | Qt::Key_G), [this] { open_elsewhere(); });
  make_ = button_of(make_action, QStringLiteral("sheets.make_button"));
  write_ = button_of(write_action, QStringLiteral("sheets.write_button"));
  elsewhere_ = button_of(elsewhere_action, QStringLiteral("sheets.elsewhere_button"));
  cancel_ = new QPushButton(tr("Cancel"));
  cancel_->setObjectName(QStringLiteral("sheets.cancel"));
  cancel_->setToolTip(tr("Stop; what was made before stays"));
  progress_ = new QProgressBar;
  progress_->setObjectName(QStringLiteral("sheets.progress"));
  progress_->setRange(0, kProgressSteps);
  sentence_ = new SentenceLabel(QStringLiteral("sheets.sentence"), this);
  sentence_->setWordWrap(true);

  auto* row = new QHBoxLayout(this);
  row->setContentsMargins(0, 0, 0, 0);
  auto* split = new QSplitter(Qt::Horizontal, this);
  split->setObjectName(QStringLiteral("sheets.splitter"));
  split->setChildrenCollapsible(false);
  row->addWidget(split);
  split->addWidget(make_choices());
  QAction* farther =
      keys->add(this, place, QStringLiteral("sheets.farther"), QStringLiteral("−"),
                tr("Show the file smaller; Ctrl and the wheel do the same"),
                QKeySequence(Qt::CTRL | Qt::Key_Minus), [this] { view_->magnify(0.8); });
  QAction* nearer =
      keys->add(this, place, QStringLiteral("sheets.nearer"), QStringLiteral("+"),
                tr("Show the file larger; Ctrl and the wheel do the same"),
                QKeySequence(Qt::CTRL | Qt::Key_Plus), [this] { view_->magnify(1.25); });
  QAction* whole =
      keys->add(this, place, QStringLiteral("sheets.whole_width"), tr("Whole width"),
                tr("Show the whole width of the file"), QKeySequence(Qt::CTRL | Qt::Key_0),
                [this] { view_->show_whole_width(); });
  split->addWidget(make_files({farther, nearer, whole}));
  split->setStretchFactor(0, 0);
  split->setStretchFactor(1, 1);
  split->setSizes({300, 620});

  view_->show_sentence(
      tr("Choose what shall leave for the workshop, and make the sheets: they are shown here as "
         "they will print, before anything is written."));
  connect_choices();
  fill_names();
  follow();
}

QWidget* Sheets::make_choices() {
  auto* scroll = new QScrollArea;
  scroll->setObjectName(QStringLiteral("sheets.choices"));
  scroll->setWidgetResizable(true);
  scroll->setFrameShape(QFrame::NoFrame);
  scroll->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
  auto* choices = new QWidget;
  auto* form = new QFormLayout(choices);
  form->setRowWrapPolicy(QFormLayout::WrapAllRows);
  form->setFieldGrowthPolicy(QFormLayout::AllNonFixedFieldsGrow);
  form->setContentsMargins(4, 4, 8, 4);

  const auto tick = [&](const char* name, const QString& words, const QString& tip) {
    auto* box = new QCheckBox(words);
    box->setObjectName(QString::fromLatin1(name));
    box->setChecked(true);
    box->setToolTip(tip);
    form->addRow(box);
    return box;
  };
  dimensions_ = tick("sheets.dimensions", tr("Dimension sheet: PDF, and a page"),
                     tr("All dimensions with ± U, drawn into photographs, with what each rests "
                        "on"));
  templates_ = tick("sheets.templates", tr("Templates 1:1 on paper: PDF, SVG, DXF"),
                    tr("Outlines at the size to be built, to cut from"));
  data_ = tick("sheets.data", tr("Data: CSV, JSON, PLY, OBJ"),
               tr("Numbers for other programs, with their covariances"));
  paper_ = new QComboBox;
  paper_->setObjectName(QStringLiteral("sheets.paper"));
  paper_->setToolTip(tr("Of what is printed"));
  paper_->addItem(tr("A4"), QStringLiteral("A4"));
  paper_->addItem(tr("Letter"), QStringLiteral("Letter"));
  form->addRow(tr("Paper"), paper_);
  replicas_ = new TypedField(
      QStringLiteral("sheets.replicas"),
      tr("Ratios of the replicas to full size, for these sheets only; empty: as in the dossier"),
      [this](const QString& text) -> calib::Result<QString, QString> {
        const auto ratios = typed_ratios(text);
        if (!ratios) return calib::Unexpected(ratios.error());
        if (!ratios->empty() && !session_->dossier().model_scale) {
          return calib::Unexpected(
              tr("A replica's size follows from the original's: give its ratio under \"Original "
                 "and scales\" first."));
        }
        return QString();
      });
  form->addRow(tr("Replicas"), replicas_);
  date_ = new TypedField(QStringLiteral("sheets.date"), tr("In the title block; empty: none"),
                         [](const QString& text) -> calib::Result<QString, QString> {
                           if (text.isEmpty() || measure::is_day(text.toStdString()))
                             return QString();
                           return calib::Unexpected(tr("Write the day as 2025-05-17."));
                         });
  propose_day();
  form->addRow(tr("Date"), date_);
  measured_by_ = new QLineEdit;
  measured_by_->setObjectName(QStringLiteral("sheets.measured_by"));
  measured_by_->setToolTip(tr("In the title block; empty: not told"));
  form->addRow(tr("Measured by"), measured_by_);
  only_ = new NameChoice(QStringLiteral("sheets.only"),
                         tr("Which dimensions stand on the dimension sheet"), tr("all dimensions"));
  form->addRow(tr("Dimensions"), only_);
  draw_ = new NameChoice(QStringLiteral("sheets.draw"),
                         tr("Which points and shapes are drawn on templates"),
                         tr("all points and shapes"));
  form->addRow(tr("Drawn on templates"), draw_);
  onto_ = new QComboBox;
  onto_->setObjectName(QStringLiteral("sheets.onto"));
  onto_->setToolTip(tr("From where templates look"));
  onto_->setSizeAdjustPolicy(QComboBox::AdjustToMinimumContentsLengthWithIcon);
  form->addRow(tr("Templates look"), onto_);
  // The words are read out with the field that they stand over.
  for (int i = 0; i < form->rowCount(); ++i) {
    auto* label = form->itemAt(i, QFormLayout::LabelRole);
    auto* field = form->itemAt(i, QFormLayout::FieldRole);
    if (!label || !field) continue;
    qobject_cast<QLabel*>(label->widget())->setBuddy(field->widget());
  }
  scroll->setWidget(choices);

  auto* left = new QWidget;
  auto* column = new QVBoxLayout(left);
  column->setContentsMargins(0, 0, 0, 0);
  column->addWidget(scroll, 3);
  column->addWidget(sentence_);
  auto* work = new QHBoxLayout;
  work->addWidget(make_, 1);
  work->addWidget(cancel_);
  column->addLayout(work);
  column->addWidget(progress_);
  files_ = new QTreeWidget;
  files_->setObjectName(QStringLiteral("sheets.files"));
  files_->setColumnCount(2);
  files_->setHeaderLabels({tr("File"), tr("Size, kB")});
  files_->setRootIsDecorated(false);
  files_->setUniformRowHeights(true);
  files_->setTextElideMode(Qt::ElideMiddle);
  files_->header()->setStretchLastSection(false);
  files_->header()->setSectionResizeMode(0, QHeaderView::Stretch);
  files_->header()->setSectionResizeMode(1, QHeaderView::ResizeToContents);
  files_->setAccessibleName(tr("Files of the sheets"));
  column->addWidget(files_, 2);
  return left;
}

QWidget* Sheets::make_files(const std::vector<QAction*>& looks) {
  auto* right = new QWidget;
  auto* column = new QVBoxLayout(right);
  column->setContentsMargins(0, 0, 0, 0);
  auto* head = new QHBoxLayout;
  head->addWidget(elsewhere_);
  head->addStretch(1);
  for (QAction* action : looks) {
    auto* button = new QToolButton;
    button->setDefaultAction(action);
    button->setObjectName(action->objectName() + QStringLiteral("_button"));
    button->setAutoRaise(true);
    head->addWidget(button);
  }
  head->addStretch(1);
  head->addWidget(write_);
  column->addLayout(head);
  view_ = new FileView;
  column->addWidget(view_, 1);
  return right;
}

void Sheets::connect_choices() {
  const auto changed = [this] { change_wish(); };
  for (QCheckBox* box : {dimensions_, templates_, data_}) {
    connect(box, &QCheckBox::toggled, this, changed);
  }
  for (QComboBox* box : {paper_, onto_}) {
    connect(box, &QComboBox::currentIndexChanged, this, changed);
  }
  for (TypedField* field : {replicas_, date_}) {
    connect(field, &TypedField::changed, this, changed);
  }
  connect(measured_by_, &QLineEdit::textChanged, this, changed);
  for (NameChoice* names : {only_, draw_}) connect(names, &NameChoice::changed, this, changed);
  connect(tolerance_, &Tolerance::changed, this, changed);
  connect(session_, &DeskSession::unit_changed, this, changed);
  connect(session_, &DeskSession::dossier_changed, this, [this](const measure::Edit& edit) {
    if (const auto* dimension = std::get_if<measure::RenameDimension>(&edit.what)) {
      only_->rename(dimension->dimension, dimension->name);
    } else if (const auto* shape = std::get_if<measure::RenameShape>(&edit.what)) {
      draw_->rename(shape->shape, shape->name);
    } else if (const auto* point = std::get_if<measure::RenamePoint>(&edit.what)) {
      draw_->rename(point->point, point->name);
    }
    fill_names();
  });
  connect(cancel_, &QPushButton::clicked, this, &Sheets::cancel);
  connect(files_, &QTreeWidget::currentItemChanged, this, &Sheets::show_chosen);
  connect(&maker_, &SheetMaker::busy_changed, this, &Sheets::follow);
  connect(&maker_, &SheetMaker::grew_stale, this, &Sheets::follow);
  connect(&maker_, &SheetMaker::went_on, this, [this](double share, const QString& what) {
    progress_->setValue(static_cast<int>(share * kProgressSteps));
    sentence_->say(what);
  });
  connect(&maker_, &SheetMaker::failed, this, [this](const QString& sentence) {
    write_folder_.clear();
    sentence_->say_problem(sentence);
  });
  connect(&maker_, &SheetMaker::made_anew, this, &Sheets::show_made);
  connect(&maker_, &SheetMaker::written, this, [this](const QString& folder) {
    const QString words = tr("%1 files are in %2.")
                              .arg(maker_.made()->files.size())
                              .arg(QDir::toNativeSeparators(folder));
    if (is_current()) {
      sentence_->say_done(words);
    } else {
      sentence_->say_problem(
          words + ' ' + tr("The dossier or the choices have changed meanwhile: write them again."));
    }
    Q_EMIT said(words);
  });
}

void Sheets::fill_names() {
  const measure::Dossier& dossier = session_->dossier();
  std::vector<std::string> dimensions, drawn;
  for (const measure::AskedDimension& asked : dossier.dimensions) dimensions.push_back(asked.name);
  std::vector<std::pair<QString, QString>> planes{{tr("from the usual sides"), QString()}};
  for (const measure::Shape& shape : dossier.shapes) {
    drawn.push_back(shape.name);
    const auto form = measure::form_of(dossier, shape.name);
    if (form == measure::FormKind::kPlane || form == measure::FormKind::kCircle) {
      planes.emplace_back(tr("onto \"%1\"").arg(q(shape.name)), q(shape.name));
    }
  }
  for (const measure::Point& point : dossier.points) drawn.push_back(point.name);
  only_->set_names(dimensions);
  draw_->set_names(drawn);
  fill(onto_, planes);
  QStringList ratios;
  for (const measure::ScaleRatio& ratio : dossier.replica_scales) ratios += ratio_text(ratio);
  replicas_->edit()->setPlaceholderText(ratios.empty()
                                            ? tr("none in the dossier; like 1:72 1:24")
                                            : tr("as in the dossier: %1").arg(ratios.join(' ')));
  replicas_->judge_again();
  follow();
}

void Sheets::propose_day() {
  proposed_day_ = QDate::currentDate().toString(Qt::ISODate);
  date_->set_text(proposed_day_);
}

void Sheets::change_wish() {
  ++wish_;
  follow();
  Q_EMIT choices_changed();
}

std::optional<SheetWish> Sheets::wish() {
  const bool usable = static_cast<int>(replicas_->check()) & static_cast<int>(date_->check());
  if (!usable) {
    (replicas_->check() ? date_ : replicas_)->setFocus();
    return std::nullopt;
  }
  SheetWish wish;
  if (dimensions_->isChecked()) wish.parts.insert(measure::SheetPart::kDimensions);
  if (templates_->isChecked()) wish.parts.insert(measure::SheetPart::kTemplates);
  if (data_->isChecked()) wish.parts.insert(measure::SheetPart::kData);
  if (wish.parts.empty()) {
    sentence_->say_problem(tr("Nothing is chosen: tick the dimension sheet, templates or data."));
    return std::nullopt;
  }
  if (session_->dossier().dimensions.empty()) {
    sentence_->say_problem(
        tr("The dossier asks for no dimension yet: ask for one under Edit, then there is something "
           "to put on a sheet."));
    return std::nullopt;
  }
  if (const auto paper = calib::paper_named(paper_->currentData().toString().toStdString())) {
    wish.paper = *paper;
  }
  wish.replica_scales = *typed_ratios(replicas_->text());
  wish.date = date_->text().toStdString();
  wish.measured_by = measured_by_->text().trimmed().toStdString();
  wish.only = only_->ticked();
  wish.draw = draw_->ticked();
  wish.onto = onto_->currentData().toString().toStdString();
  wish.unit = session_->unit();
  if (tolerance_->mm()) wish.tolerance_mm = *tolerance_->mm();
  return wish;
}

void Sheets::make() {
  if (maker_.busy()) return;
  // A desk stays open for days: the day that it proposed is today's.
  if (date_->text() == proposed_day_) propose_day();
  const auto wanted = wish();
  if (!wanted) return;
  asked_wish_ = wish_;
  progress_->setValue(0);
  sentence_->say(tr("Adjusting …"));
  maker_.make(*wanted);
}

void Sheets::cancel() {
  if (!maker_.busy() || maker_.writing()) return;
  maker_.cancel();
  write_folder_.clear();
  sentence_->say(tr("Cancelled: nothing was written."));
  follow();
}

void Sheets::write_to(const QString& folder) {
  if (maker_.busy()) return;
  last_folder_ = folder;
  if (is_current()) {
    maker_.write(folder.toStdString());
    return;
  }
  write_folder_ = folder;
  make();
  if (!maker_.busy()) write_folder_.clear();  // it could not begin; the sentence says why
}

void Sheets::follow() {
  const bool busy = maker_.busy();
  make_->setEnabled(!busy);
  cancel_->setVisible(busy && !maker_.writing());
  progress_->setVisible(busy);
  const bool any = maker_.made() != nullptr;
  write_->setEnabled(!busy && any);
  elsewhere_->setEnabled(chosen_file() != nullptr);
  if (!busy && any && !is_current() && !sentence_->is_problem()) {
    sentence_->say(maker_.is_fresh()
                       ? tr("The choices have changed since: make the sheets anew. Writing does so "
                            "by itself.")
                       : tr("The dossier has changed since: make the sheets anew. Writing does so "
                            "by itself."));
  }
}

void Sheets::show_made() {
  made_wish_ = asked_wish_;
  const auto made = maker_.made();
  const QString chosen =
      files_->currentItem() ? files_->currentItem()->data(0, Qt::UserRole).toString() : QString();
  {
    const QSignalBlocker quiet(files_);
    files_->clear();
    if (!made->warnings.empty()) {
      auto* item =
          new QTreeWidgetItem(files_, {tr("▲ remarks: %1").arg(made->warnings.size()), QString()});
      item->setData(0, Qt::UserRole, kRemarks);
    }
    for (const measure::SheetFile& file : made->files) {
      auto* item = new QTreeWidgetItem(
          files_, {q(file.name), QString::number((file.bytes.size() + 999) / 1000)});
      item->setData(0, Qt::UserRole, q(file.name));
      item->setToolTip(0, q(file.name));
      item->setTextAlignment(1, Qt::AlignRight | Qt::AlignVCenter);
    }
  }
  if (!write_folder_.isEmpty()) {
    maker_.write(std::exchange(write_folder_, QString()).toStdString());
  } else if (is_current()) {
    const QString checks = q(made->check_sentence);
    sentence_->say_done(tr("%1 files, not written yet.").arg(made->files.size()) +
                        (checks.isEmpty() ? QString() : ' ' + checks));
  }
  choose_file(chosen);
  if (!files_->currentItem() && files_->topLevelItemCount() > 0) {
    files_->setCurrentItem(files_->topLevelItem(made->warnings.empty() ? 0 : 1));
  }
  follow();
}

void Sheets::choose_file(const QString& name) {
  for (int i = 0; i < files_->topLevelItemCount(); ++i) {
    QTreeWidgetItem* item = files_->topLevelItem(i);
    if (item->data(0, Qt::UserRole).toString() != name) continue;
    files_->setCurrentItem(item);
    return;
  }
}

const measure::SheetFile* Sheets::chosen_file() const {
  if (!maker_.made() || !files_->currentItem()) return nullptr;
  const std::string name = files_->currentItem()->data(0, Qt::UserRole).toString().toStdString();
  for (const measure::SheetFile& file : maker_.made()->files) {
    if (file.name == name) return &file;
  }
  return nullptr;
}

void Sheets::show_chosen() {
  if (const measure::SheetFile* file = chosen_file()) {
    view_->show_file(*file);
  } else if (files_->currentItem() && maker_.made()) {
    QStringList sentences;
    for (const std::string& sentence : maker_.made()->warnings) sentences += q(sentence);
    view_->show_text(sentences.join(QStringLiteral("\n\n")));
  }
  follow();
}

void Sheets::ask_folder() {
  if (!write_->isEnabled()) return;
  auto* dialog = new QFileDialog(
      this, tr("Folder for the sheets; files of the same names are replaced"),
      last_folder_.isEmpty() ? q((session_->folder() / "sheets").string()) : last_folder_);
  dialog->setObjectName(QStringLiteral("sheets.folder"));
  dialog->setFileMode(QFileDialog::Directory);
  dialog->setOption(QFileDialog::ShowDirsOnly);
  dialog->setAttribute(Qt::WA_DeleteOnClose);
  connect(dialog, &QFileDialog::fileSelected, this, &Sheets::write_to);
  dialog->open();
}

void Sheets::open_elsewhere() {
  const measure::SheetFile* file = chosen_file();
  if (!file) return;
  if (!elsewhere_folder_) elsewhere_folder_ = std::make_unique<QTemporaryDir>();
  const QString path = elsewhere_folder_->filePath(q(file->name).section('/', -1));
  if (const auto written = calib::atomic_write(path.toStdString(), file->bytes); !written) {
    sentence_->say_problem(q(written.error().sentence));
  } else if (!QDesktopServices::openUrl(QUrl::fromLocalFile(path))) {
    sentence_->say_problem(
        tr("This computer has no program for %1: write the files to a folder and open it from "
           "there.")
            .arg(q(file->name)));
  }
}

QVariantMap Sheets::kept() const {
  return {{"dimensions", dimensions_->isChecked()},
          {"templates", templates_->isChecked()},
          {"data", data_->isChecked()},
          {"paper", paper_->currentData()},
          {"replicas", replicas_->text()},
          {"measured_by", measured_by_->text()},
          {"only", list_of(only_->ticked())},
          {"draw", list_of(draw_->ticked())},
          {"onto", onto_->currentData()},
          {"folder", last_folder_}};
}

void Sheets::restore(const QVariantMap& kept) {
  if (kept.isEmpty()) return;
  dimensions_->setChecked(kept["dimensions"].toBool());
  templates_->setChecked(kept["templates"].toBool());
  data_->setChecked(kept["data"].toBool());
  paper_->setCurrentIndex(std::max(0, paper_->findData(kept["paper"])));
  replicas_->set_text(kept["replicas"].toString());
  measured_by_->setText(kept["measured_by"].toString());
  only_->tick(names_of(kept["only"].toStringList()));
  draw_->tick(names_of(kept["draw"].toStringList()));
  onto_->setCurrentIndex(std::max(0, onto_->findData(kept["onto"])));
  last_folder_ = kept["folder"].toString();
}

}  // namespace desk
