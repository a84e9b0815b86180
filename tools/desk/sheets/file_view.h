// One file of a sheet, as it will be: paper as paper, drawings as drawings, data as text.
#pragma once

#include <QBuffer>
#include <QLabel>
#include <QPdfDocument>
#include <QPdfView>
#include <QPlainTextEdit>
#include <QScrollArea>
#include <QStackedWidget>
#include <QSvgRenderer>

#include "measure/store/sheet_files.h"

namespace desk {

/// A drawing on white, as wide as there is room for it or magnified.
class DrawingView : public QWidget {
  Q_OBJECT
 public:
  explicit DrawingView(QWidget* parent = nullptr);
  bool show_svg(const std::string& svg);
  /// @param width_px  of the whole drawing.
  void set_width(int width_px);
  [[nodiscard]] QSize natural_size() const { return renderer_.defaultSize(); }

 protected:
  void paintEvent(QPaintEvent* event) override;

 private:
  QSvgRenderer renderer_;
};

class FileView : public QWidget {
  Q_OBJECT
 public:
  explicit FileView(QWidget* parent = nullptr);
  ~FileView() override;

  void show_file(const measure::SheetFile& file);
  void show_sentence(const QString& sentence);  ///< in the place of a file
  void show_text(const QString& text);          ///< of any length, to be scrolled through
  void magnify(double factor);
  void show_whole_width();
  [[nodiscard]] const QPdfDocument& pdf() const { return document_; }
  [[nodiscard]] const QString& sentence() const { return sentence_; }
  [[nodiscard]] QString text() const { return text_->toPlainText(); }

 protected:
  bool eventFilter(QObject* watched, QEvent* event) override;

 private:
  void lay_out_drawing();

  QString sentence_;
  QStackedWidget* ways_;
  QLabel* words_;
  QPdfDocument document_;
  QBuffer bytes_;
  QPdfView* pages_;
  DrawingView* drawing_;
  QScrollArea* drawing_area_;
  double drawing_factor_ = 1.0;  ///< of the whole width
  QPlainTextEdit* text_;
};

}  // namespace desk
