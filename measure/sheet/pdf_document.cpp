#include "measure/sheet/pdf_document.h"

#include <algorithm>

#include <cairo-pdf.h>

#include "measure/sheet/sheet_font.h"

namespace measure {
namespace {

constexpr double kTolerance_pt = 0.005;  // of curves: two thousandths of a millimetre

cairo_status_t append(void* closure, const unsigned char* data, unsigned int length) {
  static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

/// Cairo always tells the time; blanks of the same length keep every place in the file.
void blank_out_date(std::string& bytes) {
  const auto start = bytes.rfind("/CreationDate");
  if (start == std::string::npos) {
    return;
  }
  const auto end = bytes.find(')', start);
  if (end != std::string::npos && end - start < 80) {
    std::fill(bytes.begin() + static_cast<std::ptrdiff_t>(start),
              bytes.begin() + static_cast<std::ptrdiff_t>(end) + 1, ' ');
  }
}

}  // namespace

PdfDocument::PdfDocument(const Eigen::Vector2d& page_mm, const std::string& title,
                         const std::string& date, Unit unit)
    : has_date_(!date.empty()),
      surface_(
          cairo_pdf_surface_create_for_stream(&append, &bytes_, page_mm.x() * kPointsPerMillimetre,
                                              page_mm.y() * kPointsPerMillimetre),
          &cairo_surface_destroy),
      cairo_(nullptr, &cairo_destroy) {
  cairo_pdf_surface_restrict_to_version(surface_.get(), CAIRO_PDF_VERSION_1_5);
  cairo_pdf_surface_set_metadata(surface_.get(), CAIRO_PDF_METADATA_TITLE, title.c_str());
  cairo_pdf_surface_set_metadata(surface_.get(), CAIRO_PDF_METADATA_CREATE_DATE,
                                 has_date_ ? date.c_str() : "1970-01-01T00:00:00Z");
  cairo_.reset(cairo_create(surface_.get()));
  if (unit == Unit::kMillimetre) {
    cairo_scale(cairo_.get(), kPointsPerMillimetre, kPointsPerMillimetre);
  }
  cairo_set_tolerance(cairo_.get(), kTolerance_pt);
}

void PdfDocument::text(const std::string& words, const Eigen::Vector2d& at, double height,
                       double turn_rad, double grey) {
  cairo_set_source_rgb(cairo_.get(), grey, grey, grey);
  cairo_save(cairo_.get());
  cairo_translate(cairo_.get(), at.x(), at.y());
  cairo_rotate(cairo_.get(), turn_rad);
  cairo_move_to(cairo_.get(), 0.0, 0.0);
  show_text(cairo_.get(), words, font_size(height));
  cairo_restore(cairo_.get());
}

void PdfDocument::next_page(const std::string& label) {
  if (!label.empty()) {
    cairo_pdf_surface_set_page_label(surface_.get(), label.c_str());
  }
  cairo_show_page(cairo_.get());
}

calib::Result<std::string, calib::Problem> PdfDocument::finish() {
  const cairo_status_t drawn = cairo_status(cairo_.get());
  cairo_surface_finish(surface_.get());
  const cairo_status_t written = cairo_surface_status(surface_.get());
  const cairo_status_t status = drawn != CAIRO_STATUS_SUCCESS ? drawn : written;
  if (status != CAIRO_STATUS_SUCCESS) {
    return calib::Unexpected(
        calib::Problem{std::string("the PDF could not be drawn: ") + cairo_status_to_string(status),
                       calib::Blame::kOurs});
  }
  if (!has_date_) {
    blank_out_date(bytes_);
  }
  return std::move(bytes_);
}

}  // namespace measure
