#include "tools/desk/photos/jpeg_codec.h"

#include <algorithm>
#include <csetjmp>
#include <cstdio>
#include <cstdlib>
#include <cstring>

#include <jpeglib.h>
#include <opencv2/imgproc.hpp>

namespace desk {
namespace {

constexpr int kStripRows = 16;

// libjpeg leaves by longjmp. Nothing with a destructor may therefore be made between setjmp and the
// library's calls: what is needed is made before.
struct Errors {
  jpeg_error_mgr manager;
  std::jmp_buf back;
};

[[noreturn]] void leave(j_common_ptr info) {
  std::longjmp(reinterpret_cast<Errors*>(info->err)->back, 1);
}
void be_silent(j_common_ptr, int) {}
void print_nothing(j_common_ptr) {}

void install(Errors& errors) {
  jpeg_std_error(&errors.manager);
  errors.manager.error_exit = leave;
  errors.manager.emit_message = be_silent;
  errors.manager.output_message = print_nothing;
}

struct Decoder {
  jpeg_decompress_struct info{};
  Errors errors{};
  Decoder() { info.err = &errors.manager; }
  ~Decoder() { jpeg_destroy_decompress(&info); }
  Decoder(const Decoder&) = delete;
  Decoder& operator=(const Decoder&) = delete;
};

struct Encoder {
  jpeg_compress_struct info{};
  Errors errors{};
  unsigned char* buffer = nullptr;  // of libjpeg's memory destination
  unsigned long length = 0;
  Encoder() { info.err = &errors.manager; }
  ~Encoder() {
    jpeg_destroy_compress(&info);
    std::free(buffer);
  }
  Encoder(const Encoder&) = delete;
  Encoder& operator=(const Encoder&) = delete;
};

// False where libjpeg or we cannot go on.
bool read_header(Decoder& decoder, JpegBytes bytes) {
  install(decoder.errors);
  if (setjmp(decoder.errors.back)) return false;
  jpeg_create_decompress(&decoder.info);
  jpeg_mem_src(&decoder.info, bytes.data(), static_cast<unsigned long>(bytes.size()));
  return jpeg_read_header(&decoder.info, TRUE) == JPEG_HEADER_OK;
}

bool is_plain(const jpeg_decompress_struct& info) {
  return (info.jpeg_color_space == JCS_YCbCr && info.num_components == 3) ||
         (info.jpeg_color_space == JCS_GRAYSCALE && info.num_components == 1);
}

bool start(Decoder& decoder, J_COLOR_SPACE colours, int reduction) {
  if (setjmp(decoder.errors.back)) return false;
  decoder.info.out_color_space = colours;
  decoder.info.scale_num = 1;
  decoder.info.scale_denom = static_cast<unsigned>(reduction);
  return jpeg_start_decompress(&decoder.info);
}

// Up to `count` rows into `rows`; how many came, −1 where the file is damaged.
int read_rows(Decoder& decoder, unsigned char* const* rows, int count) {
  if (setjmp(decoder.errors.back)) return -1;
  int done = 0;
  while (done < count && decoder.info.output_scanline < decoder.info.output_height) {
    done += static_cast<int>(
        jpeg_read_scanlines(&decoder.info, const_cast<JSAMPARRAY>(rows) + done, count - done));
  }
  return done;
}

cv::Mat rows_of(QImage& image, int first, int count) {
  return {count, image.width(), CV_8UC4, image.scanLine(first),
          static_cast<std::size_t>(image.bytesPerLine())};
}

}  // namespace

std::optional<JpegPixels> decode_jpeg(JpegBytes bytes) {
  Decoder decoder;
  if (!read_header(decoder, bytes) || !is_plain(decoder.info)) return std::nullopt;
  const bool is_grey = decoder.info.num_components == 1;
  const int width = static_cast<int>(decoder.info.image_width);
  const int height = static_cast<int>(decoder.info.image_height);
  JpegPixels pixels{QImage(width, height, QImage::Format_RGB32), cv::Mat(height, width, CV_8UC1)};
  if (pixels.colour.isNull() || !start(decoder, is_grey ? JCS_GRAYSCALE : JCS_YCbCr, 1)) {
    return std::nullopt;
  }
  // Strip by strip, while it is in the processor's cache: Y goes to the grey picture as it is, and
  // the three together become colours.
  cv::Mat strip(kStripRows, width, CV_8UC3), swapped(kStripRows, width, CV_8UC3);
  unsigned char* rows[kStripRows];
  for (int y = 0; y < height; y += kStripRows) {
    const int count = std::min(kStripRows, height - y);
    cv::Mat grey = pixels.grey.rowRange(y, y + count);
    for (int r = 0; r < count; ++r) rows[r] = is_grey ? grey.ptr(r) : strip.ptr(r);
    if (read_rows(decoder, rows, count) != count) return std::nullopt;
    cv::Mat colour = rows_of(pixels.colour, y, count);
    if (is_grey) {
      cv::cvtColor(grey, colour, cv::COLOR_GRAY2BGRA);
      continue;
    }
    const cv::Mat in = strip.rowRange(0, count);
    cv::Mat yrb = swapped.rowRange(0, count);
    cv::extractChannel(in, grey, 0);
    cv::mixChannels(in, yrb, {0, 0, 1, 2, 2, 1});  // OpenCV's order is Y Cr Cb
    cv::cvtColor(yrb, colour, cv::COLOR_YCrCb2BGR, 4);
  }
  return pixels;
}

std::optional<QImage> decode_jpeg_reduced(JpegBytes bytes, int reduction) {
  Decoder decoder;
  if (!read_header(decoder, bytes) || !is_plain(decoder.info)) return std::nullopt;
  if (!start(decoder, JCS_EXT_BGRA, reduction)) return std::nullopt;
  QImage image(static_cast<int>(decoder.info.output_width),
               static_cast<int>(decoder.info.output_height), QImage::Format_RGB32);
  if (image.isNull()) return std::nullopt;
  for (int y = 0; y < image.height(); ++y) {
    unsigned char* row = image.scanLine(y);
    if (read_rows(decoder, &row, 1) != 1) return std::nullopt;
  }
  return image;
}

namespace {

struct Cutter {
  Decoder source;
  Encoder target;
  jvirt_barray_ptr coefficients[MAX_COMPONENTS] = {};
  jvirt_barray_ptr one_tile[MAX_COMPONENTS] = {};
  jvirt_barray_ptr* from = nullptr;
};

bool read_coefficients(Cutter& cutter, int tile) {
  jpeg_decompress_struct& info = cutter.source.info;
  if (setjmp(cutter.source.errors.back)) return false;
  // Room for one tile, asked for first: jpeg_read_coefficients provides it with its own.
  int most_across = 1, most_down = 1;
  for (int c = 0; c < info.num_components; ++c) {
    most_across = std::max(most_across, info.comp_info[c].h_samp_factor);
    most_down = std::max(most_down, info.comp_info[c].v_samp_factor);
  }
  if (tile % (8 * most_across) != 0 || tile % (8 * most_down) != 0) return false;
  for (int c = 0; c < info.num_components; ++c) {
    const jpeg_component_info& part = info.comp_info[c];
    const int across = tile / (8 * most_across) * part.h_samp_factor;
    const int down = tile / (8 * most_down) * part.v_samp_factor;
    cutter.one_tile[c] = info.mem->request_virt_barray(
        reinterpret_cast<j_common_ptr>(&info), JPOOL_IMAGE, TRUE, static_cast<JDIMENSION>(across),
        static_cast<JDIMENSION>(down), static_cast<JDIMENSION>(part.v_samp_factor));
  }
  cutter.from = jpeg_read_coefficients(&info);
  return cutter.from != nullptr;
}

bool prepare_target(Cutter& cutter) {
  install(cutter.target.errors);
  if (setjmp(cutter.target.errors.back)) return false;
  jpeg_create_compress(&cutter.target.info);
  return true;
}

// Copies the blocks of the tile whose corner is (x, y) and writes it.
bool write_tile(Cutter& cutter, int x, int y, int width, int height) {
  jpeg_decompress_struct& source = cutter.source.info;
  jpeg_compress_struct& target = cutter.target.info;
  if (setjmp(cutter.source.errors.back)) return false;
  if (setjmp(cutter.target.errors.back)) return false;
  std::free(cutter.target.buffer);
  cutter.target.buffer = nullptr;
  cutter.target.length = 0;
  jpeg_mem_dest(&target, &cutter.target.buffer, &cutter.target.length);
  jpeg_copy_critical_parameters(&source, &target);
  target.image_width = static_cast<JDIMENSION>(width);
  target.image_height = static_cast<JDIMENSION>(height);
  const auto common = reinterpret_cast<j_common_ptr>(&source);
  for (int c = 0; c < source.num_components; ++c) {
    const jpeg_component_info& part = source.comp_info[c];
    const int across_px = 8 * source.max_h_samp_factor, down_px = 8 * source.max_v_samp_factor;
    const int first_column = x / across_px * part.h_samp_factor;
    const int first_row = y / down_px * part.v_samp_factor;
    // Whole MCUs: the arrays are padded to them.
    const int columns = (width + across_px - 1) / across_px * part.h_samp_factor;
    const int rows = (height + down_px - 1) / down_px * part.v_samp_factor;
    for (int row = 0; row < rows; row += part.v_samp_factor) {
      JBLOCKARRAY in = source.mem->access_virt_barray(
          common, cutter.from[c], static_cast<JDIMENSION>(first_row + row),
          static_cast<JDIMENSION>(part.v_samp_factor), FALSE);
      JBLOCKARRAY out =
          source.mem->access_virt_barray(common, cutter.one_tile[c], static_cast<JDIMENSION>(row),
                                         static_cast<JDIMENSION>(part.v_samp_factor), TRUE);
      for (int r = 0; r < part.v_samp_factor; ++r) {
        std::memcpy(out[r], in[r] + first_column, sizeof(JBLOCK) * columns);
      }
    }
  }
  jpeg_write_coefficients(&target, cutter.one_tile);
  jpeg_finish_compress(&target);
  return true;
}

}  // namespace

std::optional<JpegTiles> cut_jpeg(JpegBytes bytes, int tile) {
  Cutter cutter;
  if (!read_header(cutter.source, bytes) || !is_plain(cutter.source.info) ||
      !read_coefficients(cutter, tile) || !prepare_target(cutter)) {
    return std::nullopt;
  }
  JpegTiles cut;
  cut.size = QSize(static_cast<int>(cutter.source.info.image_width),
                   static_cast<int>(cutter.source.info.image_height));
  for (int y = 0; y < cut.size.height(); y += tile) {
    for (int x = 0; x < cut.size.width(); x += tile) {
      if (!write_tile(cutter, x, y, std::min(tile, cut.size.width() - x),
                      std::min(tile, cut.size.height() - y))) {
        return std::nullopt;
      }
      cut.tiles.emplace_back(reinterpret_cast<const char*>(cutter.target.buffer),
                             static_cast<qsizetype>(cutter.target.length));
    }
  }
  return cut;
}

}  // namespace desk
