#include "tools/desk/sheets/file_view.h"

#include <QEvent>
#include <QFontDatabase>
#include <QPainter>
#include <QVBoxLayout>
#include <QWheelEvent>
#include <algorithm>

namespace desk {
namespace {

// More of a text than a person scrolls through to see what it holds.
constexpr std::size_t kLongestText = 60'000;
constexpr double kNearest = 8.0, kFarthest = 0.25;
constexpr int kPageMargin = 8;

bool ends_with(const std::string& name, const char* ending) { return name.ends_with(ending); }

}  // namespace

DrawingView::DrawingView(QWidget* parent) : QWidget(parent) {
  renderer_.setAspectRatioMode(Qt::KeepAspectRatio);
}

bool DrawingView::show_svg(const std::string& svg) {
  const bool loaded = renderer_.load(QByteArray::fromStdString(svg));
  renderer_.setAspectRatioMode(Qt::KeepAspectRatio);
  update();
  return loaded;
}

void DrawingView::set_width(int width_px) {
  const QSizeF size = renderer_.defaultSize();
  if (size.isEmpty()) return;
  setFixedSize(width_px, static_cast<int>(width_px * size.height() / size.width()));
}

void DrawingView::paintEvent(QPaintEvent*) {
  QPainter painter(this);
  painter.setRenderHint(QPainter::Antialiasing);
  painter.fillRect(rect(), Qt::white);  // paper is white in the dark palette too
  if (renderer_.isValid()) renderer_.render(&painter, QRectF(rect()));
}

FileView::FileView(QWidget* parent) : QWidget(parent), document_(nullptr) {
  setObjectName(QStringLiteral("sheets.view"));
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(0, 0, 0, 0);
  ways_ = new QStackedWidget(this);
  column->addWidget(ways_, 1);
  words_ = new QLabel(this);
  words_->setObjectName(QStringLiteral("sheets.view.sentence"));
  words_->setWordWrap(true);
  words_->setTextFormat(Qt::PlainText);
  words_->setAlignment(Qt::AlignCenter);
  words_->setMargin(24);
  ways_->addWidget(words_);
  pages_ = new QPdfView(this);
  pages_->setObjectName(QStringLiteral("sheets.view.pages"));
  pages_->setPageMode(QPdfView::PageMode::MultiPage);
  pages_->setZoomMode(QPdfView::ZoomMode::FitToWidth);
  pages_->setDocumentMargins({kPageMargin, kPageMargin, kPageMargin, kPageMargin});
  pages_->setDocument(&document_);
  pages_->viewport()->installEventFilter(this);
  ways_->addWidget(pages_);
  drawing_area_ = new QScrollArea(this);
  drawing_area_->setObjectName(QStringLiteral("sheets.view.drawing"));
  drawing_area_->setAlignment(Qt::AlignCenter);
  drawing_area_->viewport()->installEventFilter(this);
  drawing_ = new DrawingView;
  drawing_area_->setWidget(drawing_);
  ways_->addWidget(drawing_area_);
  text_ = new QPlainTextEdit(this);
  text_->setObjectName(QStringLiteral("sheets.view.text"));
  text_->setReadOnly(true);
  text_->setLineWrapMode(QPlainTextEdit::NoWrap);
  text_->setFont(QFontDatabase::systemFont(QFontDatabase::FixedFont));
  ways_->addWidget(text_);
}

FileView::~FileView() {
  // It draws on a thread of its own, which must have ended before the document goes.
  delete pages_;
}

void FileView::show_sentence(const QString& sentence) {
  sentence_ = sentence;
  words_->setText(sentence);
  ways_->setCurrentWidget(words_);
}

void FileView::show_file(const measure::SheetFile& file) {
  sentence_.clear();
  const auto size = static_cast<qsizetype>(file.bytes.size());
  if (ends_with(file.name, ".pdf")) {
    document_.close();
    bytes_.close();
    bytes_.setData(file.bytes.data(), static_cast<int>(size));
    bytes_.open(QIODevice::ReadOnly);
    document_.load(&bytes_);
    if (document_.status() == QPdfDocument::Status::Ready) {
      ways_->setCurrentWidget(pages_);
    } else {
      show_sentence(tr("This file cannot be shown here; it can be written and opened elsewhere."));
    }
  } else if (ends_with(file.name, ".svg") && drawing_->show_svg(file.bytes)) {
    ways_->setCurrentWidget(drawing_area_);
    drawing_factor_ = 1.0;
    lay_out_drawing();
  } else if (ends_with(file.name, ".html")) {
    show_sentence(
        tr("One page for any browser, on a phone at the bench as on a desk; it needs no network. "
           "\"Open elsewhere\" shows it."));
  } else if (ends_with(file.name, ".dxf")) {
    show_sentence(
        tr("The same drawing as the PDF and the SVG beside it, in millimetres, with layers for "
           "edges, circles, centre lines, dimensions and uncertainty."));
  } else {
    const bool is_cut = file.bytes.size() > kLongestText;
    QString text =
        QString::fromUtf8(file.bytes.data(), std::min(size, static_cast<qsizetype>(kLongestText)));
    if (is_cut) {
      text +=
          QStringLiteral("\n… ") + tr("%1 kB in all; only the beginning is shown").arg(size / 1000);
    }
    show_text(text);
    text_->setLineWrapMode(QPlainTextEdit::NoWrap);
  }
}

void FileView::show_text(const QString& text) {
  sentence_.clear();
  text_->setLineWrapMode(QPlainTextEdit::WidgetWidth);
  text_->setPlainText(text);
  ways_->setCurrentWidget(text_);
}

void FileView::magnify(double factor) {
  if (ways_->currentWidget() == pages_) {
    double now = pages_->zoomFactor();
    if (pages_->zoomMode() != QPdfView::ZoomMode::Custom && document_.pageCount() > 0) {
      // What the whole width comes to, to go on from there.
      const double page_px = document_.pagePointSize(0).width() * logicalDpiX() / 72.0;
      now = (pages_->viewport()->width() - 2 * kPageMargin) / page_px;
    }
    pages_->setZoomMode(QPdfView::ZoomMode::Custom);
    pages_->setZoomFactor(std::clamp(now * factor, kFarthest, kNearest));
  } else if (ways_->currentWidget() == drawing_area_) {
    drawing_factor_ = std::clamp(drawing_factor_ * factor, kFarthest, kNearest);
    lay_out_drawing();
  } else if (ways_->currentWidget() == text_) {
    text_->zoomIn(factor > 1 ? 1 : -1);
  }
}

void FileView::show_whole_width() {
  pages_->setZoomMode(QPdfView::ZoomMode::FitToWidth);
  drawing_factor_ = 1.0;
  lay_out_drawing();
}

void FileView::lay_out_drawing() {
  drawing_->set_width(static_cast<int>(
      drawing_factor_ * std::max(100, drawing_area_->viewport()->width() - 2 * kPageMargin)));
}

bool FileView::eventFilter(QObject* watched, QEvent* event) {
  if (event->type() == QEvent::Resize && watched == drawing_area_->viewport()) {
    lay_out_drawing();
  } else if (event->type() == QEvent::Wheel) {
    const auto* wheel = static_cast<QWheelEvent*>(event);
    if (wheel->modifiers() & Qt::ControlModifier) {
      magnify(wheel->angleDelta().y() > 0 ? 1.25 : 0.8);
      return true;
    }
  }
  return QWidget::eventFilter(watched, event);
}

}  // namespace desk
