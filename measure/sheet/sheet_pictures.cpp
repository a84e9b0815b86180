#include "measure/sheet/sheet_pictures.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <mutex>
#include <optional>
#include <set>
#include <thread>

#include <Eigen/Geometry>

#include "measure/live/predict.h"
#include "measure/live/trace.h"
#include "measure/sheet/photo_choice.h"
#include "measure/sheet/picture_file.h"
#include "measure/sheet/sheet_font.h"

namespace measure::internal {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr double kLabelSpare = 1.04;  // a browser's typeface may run a little wider
constexpr double kAlsoGood = 0.4;     // of the best score: worth showing on demand
constexpr std::size_t kAlsoIn = 2;

double rounded(double value, double step) { return std::round(value / step) * step; }

/// Two solutions of one survey differ in their last digits, and so could a drawing, wherever two
/// places for a text are equally good. A billionth of its size is far below what it shows, and far
/// above what they differ by.
constexpr double kRounding = 1e-9;

Vector3d rounded(const Vector3d& place, double size) {
  return place.unaryExpr([&](double v) { return rounded(v, kRounding * size); });
}

Form rounded(Form form, double size) {
  form.position = rounded(form.position, size);
  form.direction = rounded(form.direction, 1.0).normalized();
  form.radius = rounded(form.radius, kRounding * size);
  form.half_angle = rounded(form.half_angle, kRounding);
  form.from = rounded(form.from, kRounding * size);
  form.to = rounded(form.to, kRounding * size);
  return form;
}

OrientedPhoto rounded(OrientedPhoto photo, double size) {
  photo.pose.rotation = rounded(photo.pose.rotation, 1.0);
  photo.pose.translation = rounded(photo.pose.translation, size);
  calib::IntrinsicVector values = photo.camera.vector();
  for (int i = 0; i < calib::kIntrinsicCount; ++i) {
    values[i] = rounded(values[i], i <= calib::kCy ? 1e-6 : kRounding);
  }
  photo.camera = calib::Intrinsics::from_vector(values);
  return photo;
}

struct PlacedPhoto {
  const Photo* photo = nullptr;
  OrientedPhoto oriented;
};

/// Length of the projection over the longest that a length so far away can have.
double frontality(const OrientedPhoto& photo, const Vector3d& a, const Vector3d& b) {
  const Vector3d middle = (a + b) / 2, run = b - a;
  const Vector3d sight = middle - photo.pose.centre();
  if (!(run.norm() > 1e-9) || !(sight.norm() > 1e-9)) return 1.0;
  return run.normalized().cross(sight.normalized()).norm();
}

double frontality(const OrientedPhoto& photo, const DimensionFigure& figure) {
  if (!figure.lengths.empty()) {
    double sum = 0;
    for (const FigureLength& length : figure.lengths) {
      // An offset near zero has no direction to be seen across; what it is measured from has.
      const Vector3d run = (length.to - length.from).dot(length.along) * length.along;
      sum += frontality(photo, length.from, length.from + run);
    }
    return sum / static_cast<double>(figure.lengths.size());
  }
  Vector3d normal = Vector3d::Zero();
  Vector3d at = Vector3d::Zero();
  if (!figure.angle && !figure.rounds.empty()) {
    if (figure.rounds.front().ball) return 1.0;
    at = figure.rounds.front().centre;
    normal = figure.rounds.front().normal;
  } else if (figure.angle) {
    at = figure.angle->vertex;
    normal = (figure.angle->first - at).cross(figure.angle->second - at);
  } else if (figure.extent.size() >= 3) {
    at = figure.extent[0];
    normal = (figure.extent[1] - at).cross(figure.extent[2] - at);
  }
  if (!(normal.norm() > 1e-9)) return 1.0;
  return std::abs(normal.normalized().dot((at - photo.pose.centre()).normalized()));
}

/// How well the photo shows the figure: all of it in the frame, its points seen, across the line of
/// sight, and large.
double score(const PlacedPhoto& photo, const DimensionFigure& figure,
             const std::vector<double>& sight_of_points) {
  const calib::ImageSize& size = photo.photo->size;
  Vector2d low = Vector2d::Constant(1e18), high = -low;
  for (const Vector3d& place : figure.extent) {
    const auto px = project(photo.oriented, place);
    if (!px || px->x() < 0 || px->y() < 0 || px->x() > size.width - 1 ||
        px->y() > size.height - 1) {
      return 0.0;
    }
    low = low.cwiseMin(*px);
    high = high.cwiseMax(*px);
  }
  // The mean of the logarithms, so that shapes of many points are not put last.
  double seen = 0.0;
  for (const double sight : sight_of_points) {
    if (!(sight > 0)) return 0.0;
    seen += std::log(sight);
  }
  const auto count = static_cast<double>(std::max<std::size_t>(1, sight_of_points.size()));
  seen = std::exp(seen / count * std::min(3.0, count));
  const double share = (high - low).norm() / (0.3 * std::max(size.width, size.height));
  return seen * std::max(0.03, frontality(photo.oriented, figure)) *
         std::sqrt(std::clamp(share, 0.01, 1.0));
}

double sight_score(Sight sight) {
  switch (sight) {
    case Sight::kLikely:
      return 0.8;
    case Sight::kUnclear:
      return 0.5;
    case Sight::kHidden:
      return 0.15;
    case Sight::kOutside:
    case Sight::kUnknown:
      return 0.0;
  }
  return 0.0;
}

Vector2d label_size(const SheetDimension& dimension) {
  double widest = 0;
  for (const auto& by_unit : dimension.texts) {
    for (const std::string& text : by_unit)
      widest = std::max(widest, text_width_of_em(dimension.symbol + text, kLabelText));
  }
  const double number = text_width_of_em(label_number(dimension), kLabelText, true);
  return {kLabelSpare * (number + widest) + 4 * kLabelPadding, kLabelHeight};
}

/// A picture before its pixels are there.
struct Planned {
  std::size_t photo = 0;
  PictureView view;
  std::vector<DrawnDimension> drawn, also;
};

class Planner {
 public:
  Planner(const Survey& survey, const Dossier& dossier, const std::vector<std::size_t>& asked,
          const SheetContent& content) {
    double size = 0;  // of the original, to a power of ten
    for (const PointReport& point : survey.report().points) {
      if (point.placed) size = std::max(size, point.position.norm());
    }
    size = size > 0 ? std::pow(10.0, std::ceil(std::log10(size))) : 1.0;
    for (const Photo& photo : dossier.photos) {
      if (const auto oriented = oriented_photo(survey, photo.name)) {
        photos_.push_back({&photo, rounded(*oriented, size)});
      }
    }
    PlacedForms placed = placed_forms(survey.report(), dossier, evaluate_forms(survey, dossier));
    for (auto& [name, form] : placed.forms) form = rounded(form, size);
    for (auto& [name, outline] : placed.outlines) {
      for (Vector3d& corner : outline) corner = rounded(corner, size);
    }
    std::set<std::pair<std::string, std::string>> marked;  // points and seen shapes
    for (const MarkReport& mark : survey.report().marks) {
      if (!mark.doubted) marked.emplace(mark.photo, mark.point);
    }
    for (const ShapeMarkReport& mark : survey.report().shape_marks) {
      if (!mark.doubted) marked.emplace(mark.photo, mark.shape);
    }
    const auto is_point = [&](const std::string& name) {
      return dossier.find_point(name) != nullptr;
    };
    std::set<std::pair<std::string, std::string>> hidden;
    for (const Hidden& one : dossier.hidden) hidden.emplace(one.photo, one.point);
    const Predictor predictor(survey, dossier);
    std::map<std::pair<std::size_t, std::string>, double> sights;
    const auto sight = [&](std::size_t photo, const std::string& point) {
      const auto [at, is_new] = sights.try_emplace({photo, point}, 0.0);
      if (is_new) {
        const std::string& name = photos_[photo].photo->name;
        at->second = marked.contains({name, point})   ? 1.0
                     : hidden.contains({name, point}) ? 0.1
                     : is_point(point)                ? sight_score(predictor.sight(name, point))
                                                      : sight_score(Sight::kUnclear);
      }
      return at->second;
    };
    for (std::size_t d = 0; d < asked.size(); ++d) {
      const AskedDimension& one = dossier.dimensions[asked[d]];
      figures_.push_back(figure_of(dossier, one.kind, placed));
      label_sizes_.push_back(label_size(content.dimensions[d]));
      if (!figures_.back()) continue;
      std::vector<std::string> names = points_behind(dossier, names_of(one.kind));
      const std::vector<std::string> shapes = seen_shapes_behind(dossier, names_of(one.kind));
      names.insert(names.end(), shapes.begin(), shapes.end());
      std::sort(names.begin(), names.end());
      names.erase(std::unique(names.begin(), names.end()), names.end());
      for (std::size_t p = 0; p < photos_.size(); ++p) {
        std::vector<double> sight_of_points;
        for (const std::string& name : names) sight_of_points.push_back(sight(p, name));
        const double its = score(photos_[p], *figures_.back(), sight_of_points);
        if (its > 0) scores_.push_back({d, p, its});
      }
    }
  }

  std::vector<Planned> run() {
    std::vector<Planned> pictures;
    for (const ChosenView& chosen : choose_views(scores_, figures_.size(), photos_.size())) {
      std::vector<std::size_t> left = chosen.dimensions;
      while (!left.empty()) {
        Planned picture = draw(chosen.photo, left);
        std::vector<std::size_t> without_text;
        std::erase_if(picture.drawn, [&](const DrawnDimension& one) {
          if (!one.label) without_text.push_back(one.dimension);
          return !one.label;
        });
        // What has no room even alone stays in the table only.
        if (picture.drawn.empty()) break;
        if (!without_text.empty()) picture = draw(chosen.photo, shown_in(picture));
        std::erase_if(picture.drawn, [](const DrawnDimension& one) { return !one.label; });
        pictures.push_back(std::move(picture));
        left = std::move(without_text);
      }
    }
    add_also(pictures);
    return pictures;
  }

  [[nodiscard]] const PlacedPhoto& photo(std::size_t index) const { return photos_[index]; }

 private:
  static std::vector<std::size_t> shown_in(const Planned& picture) {
    std::vector<std::size_t> shown;
    for (const DrawnDimension& one : picture.drawn) shown.push_back(one.dimension);
    return shown;
  }

  [[nodiscard]] DimensionToDraw to_draw(std::size_t d) const {
    return {d, &*figures_[d], label_sizes_[d]};
  }

  [[nodiscard]] Planned draw(std::size_t photo_index,
                             const std::vector<std::size_t>& dimensions) const {
    const PlacedPhoto& photo = photos_[photo_index];
    std::vector<Vector2d> places;
    std::vector<DimensionToDraw> to_be_drawn;
    for (const std::size_t d : dimensions) {
      for (const Vector3d& place : figures_[d]->extent) {
        if (const auto px = project(photo.oriented, place)) places.push_back(*px);
      }
      to_be_drawn.push_back(to_draw(d));
    }
    PictureView view(photo.oriented, photo.photo->size, part_around(places, photo.photo->size),
                     photo.photo->exif_orientation);
    auto drawn = draw_dimensions(view, to_be_drawn);
    return {photo_index, view, std::move(drawn), {}};
  }

  /// Pictures that show a dimension well, too, though not with all their others.
  void add_also(std::vector<Planned>& pictures) const {
    std::vector<std::vector<std::pair<double, std::size_t>>> candidates(figures_.size());
    std::vector<double> best(figures_.size(), 0.0);
    for (const ViewScore& one : scores_)
      best[one.dimension] = std::max(best[one.dimension], one.score);
    for (const ViewScore& one : scores_) {
      if (one.score < kAlsoGood * best[one.dimension]) continue;
      for (std::size_t p = 0; p < pictures.size(); ++p) {
        const Planned& picture = pictures[p];
        if (picture.photo != one.photo) continue;
        const auto shown = shown_in(picture);
        if (std::find(shown.begin(), shown.end(), one.dimension) != shown.end()) continue;
        const auto& extent = figures_[one.dimension]->extent;
        const Vector2d size = picture.view.size();
        const bool inside = std::all_of(extent.begin(), extent.end(), [&](const Vector3d& place) {
          const auto px = picture.view.project(place);
          return px && px->x() > 10 && px->y() > 10 && px->x() < size.x() - 10 &&
                 px->y() < size.y() - 10;
        });
        if (inside) candidates[one.dimension].emplace_back(-one.score, p);
      }
    }
    for (std::size_t d = 0; d < figures_.size(); ++d) {
      auto& ranked = candidates[d];
      std::sort(ranked.begin(), ranked.end());
      std::set<std::size_t> photos;
      for (const auto& [cost, p] : ranked) {
        if (photos.size() >= kAlsoIn) break;
        if (photos.contains(pictures[p].photo)) continue;
        auto alone = draw_dimensions(pictures[p].view, {to_draw(d)});
        if (!alone.front().label) continue;
        photos.insert(pictures[p].photo);
        pictures[p].also.push_back(std::move(alone.front()));
      }
    }
  }

  std::vector<PlacedPhoto> photos_;
  std::vector<std::optional<DimensionFigure>> figures_;
  std::vector<Vector2d> label_sizes_;
  std::vector<ViewScore> scores_;
};

}  // namespace

calib::Result<calib::Done, calib::Problem> add_pictures(const Survey& survey,
                                                        const Dossier& dossier,
                                                        const std::vector<std::size_t>& asked,
                                                        const SheetOptions& options,
                                                        SheetContent& content) {
  Planner planner(survey, dossier, asked, content);
  std::vector<Planned> planned = planner.run();
  // Each photo is decoded once, whatever the number of its parts.
  std::map<std::size_t, std::vector<std::size_t>> by_photo;
  for (std::size_t p = 0; p < planned.size(); ++p) by_photo[planned[p].photo].push_back(p);
  std::vector<std::pair<std::size_t, std::vector<std::size_t>>> work(by_photo.begin(),
                                                                     by_photo.end());
  std::vector<StoredPicture> stored(planned.size());
  std::atomic<std::size_t> next = 0;
  std::mutex mutex;
  std::size_t done = 0;
  std::map<std::size_t, calib::Problem> problems;  // by place in the work: the first is told
  const auto decode = [&] {
    for (std::size_t w = next++; w < work.size(); w = next++) {
      {
        const std::lock_guard lock(mutex);
        if (!problems.empty() || (options.cancelled && options.cancelled())) return;
        if (options.progress) {
          options.progress(0.5 + 0.4 * static_cast<double>(done) / static_cast<double>(work.size()),
                           "reading " + planner.photo(work[w].first).photo->name);
        }
      }
      const Photo& photo = *planner.photo(work[w].first).photo;
      std::vector<PhotoPart> parts;
      for (const std::size_t p : work[w].second) parts.push_back(planned[p].view.part());
      auto pictures = cut_pictures(
          options.photo_file ? options.photo_file(photo) : std::filesystem::path(photo.file), photo,
          parts, planned[work[w].second.front()].view.quarter_turns());
      const std::lock_guard lock(mutex);
      ++done;
      if (!pictures) {
        problems.emplace(w, pictures.error());
        return;
      }
      for (std::size_t i = 0; i < parts.size(); ++i) {
        stored[work[w].second[i]] = std::move((*pictures)[i]);
      }
    }
  };
  {
    // A photo of 24 megapixels takes some 100 MB while it is decoded: no more than two at a time.
    const std::size_t helpers =
        std::min<std::size_t>(work.size(), std::thread::hardware_concurrency() > 1 ? 1 : 0);
    std::vector<std::jthread> threads;
    for (std::size_t t = 0; t < helpers; ++t) threads.emplace_back(decode);
    decode();
  }
  if (!problems.empty()) return calib::Unexpected(problems.begin()->second);
  if (options.cancelled && options.cancelled()) return calib::Done{};  // the caller says so

  for (std::size_t p = 0; p < planned.size(); ++p) {
    const Photo& photo = *planner.photo(planned[p].photo).photo;
    SheetPicture picture;
    picture.photo = photo.name;
    picture.sha256 = photo.sha256;
    picture.camera = photo.camera;
    picture.is_part = planned[p].view.is_part();
    picture.size = planned[p].view.size();
    picture.jpeg = std::move(stored[p].jpeg);
    picture.jpeg_size = stored[p].size;
    picture.drawn = std::move(planned[p].drawn);
    picture.also = std::move(planned[p].also);
    for (const DrawnDimension& one : picture.drawn) {
      content.dimensions[one.dimension].pictures.push_back(p);
    }
    for (const DrawnDimension& one : picture.also) {
      content.dimensions[one.dimension].also_in.push_back(p);
    }
    content.pictures.push_back(std::move(picture));
  }
  return calib::Done{};
}

}  // namespace measure::internal
