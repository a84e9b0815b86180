#include "tools/desk/sightings/point_marker.h"

#include <QLocale>
#include <algorithm>
#include <cmath>

namespace desk {
namespace {

QString text(const std::string& words) { return QString::fromStdString(words); }
QPointF point_of(const Eigen::Vector2d& at) { return {at.x(), at.y()}; }

/// A coordinate of a click: half a pixel of the photo, or most of one on the screen where that is
/// more. Common practice, no source.
double click_sigma_px(double magnification) { return std::max(0.5, 0.75 / magnification); }
/// How far a click may lie from what was meant.
double click_radius_px(double magnification) { return std::clamp(8.0 / magnification, 2.5, 10.0); }

/// Pixels on each side of a place: the largest window of a refinement and its search.
constexpr int kReach_px = 160;

measure::PhotoWindow surroundings(const PhotoStore& store, const std::string& photo,
                                  const Eigen::Vector2d& about_px) {
  QRect part(int(std::lround(about_px.x())) - kReach_px, int(std::lround(about_px.y())) - kReach_px,
             2 * kReach_px + 1, 2 * kReach_px + 1);
  measure::PhotoWindow window;
  window.pixels = store.grey_part(photo, part);
  window.offset_px = {part.x(), part.y()};
  return window;
}

MarkState state_of(const measure::Mark& mark, bool doubted) {
  if (mark.set_aside) return MarkState::kSetAside;
  if (doubted) return MarkState::kDoubted;
  switch (mark.source) {
    case measure::MarkSource::kByHand:
      return MarkState::kByHand;
    case measure::MarkSource::kRefined:
      return MarkState::kRefined;
    case measure::MarkSource::kImported:
      break;
  }
  return MarkState::kImported;
}

}  // namespace

PointMarker::PointMarker(DeskSession* session, PhotoStore* store, Refiner refiner, QObject* parent)
    : QObject(parent), session_(session), store_(store), refiner_(std::move(refiner)) {
  connect(session_, &DeskSession::point_chosen, this, [this] {
    places_ = std::make_shared<Places>();
    clicked_.clear();
    remarks_.clear();
    forget_proposals();
  });
}

void PointMarker::forget_proposals() {
  ++era_;
  proposals_.clear();
  // What somebody has accepted is still done, though another point is chosen meanwhile.
  if (batches_.empty()) proposals_runner_.forget_all();
}

std::optional<Prediction> PointMarker::prediction(const std::string& photo) const {
  const auto at = places_->in_photo.find(photo);
  if (at == places_->in_photo.end() || !at->second.position_px) return std::nullopt;
  if (at->second.sight == measure::Sight::kOutside) return std::nullopt;
  return Prediction{*at->second.position_px, at->second.covariance_px2};
}

void PointMarker::take_places(std::shared_ptr<const Places> places) {
  if (places->point != session_->chosen_point()) return;
  places_ = std::move(places);
  // A proposal stands as long as the prediction it was asked for does.
  std::erase_if(proposals_, [&](const auto& entry) {
    const auto now = prediction(entry.first);
    if (!now) return true;
    const Asked& asked = entry.second;
    if (asked.proposal.state == Proposal::State::kOffered) {
      return !disagreement(*now, *asked.proposal.answer).isEmpty();
    }
    if (asked.proposal.state == Proposal::State::kUnderWay) return false;
    if (asked.patterns != patterns_for(entry.first)) return true;  // a better one has been marked
    const double before = search_radius_px(asked.prediction), after = search_radius_px(*now);
    return (now->position_px - asked.prediction.position_px).norm() > 0.25 ||
           std::abs(before - after) > 0.2 * before;
  });
}

void PointMarker::set_refine_as(RefineAs as) {
  if (as == refine_as_) return;
  refine_as_ = as;
  forget_proposals();
}

std::string PointMarker::pattern_photo() const {
  const std::string& point = session_->chosen_point();
  const auto usable = [&](const std::string& photo) {
    const measure::Mark* mark = session_->mark_at(photo, point);
    return mark && !mark->set_aside && !session_->is_doubted(photo, point);
  };
  if (const auto at = patterns_.find(point); at != patterns_.end() && usable(at->second)) {
    return at->second;
  }
  for (const measure::Photo& photo : session_->dossier().photos) {
    if (usable(photo.name)) return photo.name;
  }
  return {};
}

std::vector<std::string> PointMarker::patterns_for(const std::string& photo) const {
  const std::string& point = session_->chosen_point();
  const std::string first = pattern_photo();
  std::vector<std::string> patterns;
  if (!first.empty() && first != photo) patterns.push_back(first);
  const measure::PointReport* report = session_->point_report(point);
  if (patterns_.contains(point) || !report || !report->placed) return patterns;
  const measure::Survey& survey = *session_->live()->survey;
  const auto here = measure::oriented_photo(survey, photo);
  if (!here) return patterns;
  // Seen from nearly the same direction a place looks most alike.
  const Eigen::Vector3d direction = (here->pose.centre() - report->position).normalized();
  std::vector<std::pair<double, std::string>> by_angle;
  for (const measure::Photo& other : session_->dossier().photos) {
    const measure::Mark* mark = session_->mark_at(other.name, point);
    if (other.name == photo || !mark || mark->set_aside) continue;
    if (session_->is_doubted(other.name, point)) continue;
    const auto there = measure::oriented_photo(survey, other.name);
    if (!there) continue;
    const double cosine = direction.dot((there->pose.centre() - report->position).normalized());
    by_angle.emplace_back(-cosine, other.name);
  }
  std::sort(by_angle.begin(), by_angle.end());
  patterns.clear();
  for (std::size_t n = 0; n < std::min<std::size_t>(3, by_angle.size()); ++n) {
    patterns.push_back(by_angle[n].second);
  }
  return patterns;
}

void PointMarker::set_pattern_photo(const std::string& photo) {
  if (!session_->mark_at(photo, session_->chosen_point())) {
    Q_EMIT said(tr("%1 has no mark of this point: mark it there first, then take the view as "
                   "pattern.")
                    .arg(text(photo)));
    return;
  }
  const std::string before = pattern_photo();
  patterns_[session_->chosen_point()] = photo;
  forget_proposals();
  Q_EMIT view_changed(before);
  Q_EMIT view_changed(photo);
}

void PointMarker::set_patterns(std::map<std::string, std::string> patterns) {
  patterns_ = std::move(patterns);
  forget_proposals();
}

void PointMarker::ask(const std::string& photo, const Eigen::Vector2d& at_px, double radius_px,
                      RefineRunner& runner, std::function<void(Refined)> done) {
  const measure::Dossier& dossier = session_->dossier();
  const measure::Photo* about = dossier.find_photo(photo);
  if (!about) return;
  auto question = std::make_shared<RefineQuestion>();
  question->as = refine_as_;
  question->position_px = at_px;
  question->options.radius_px = radius_px;
  question->subject = tr("\"%1\" in %2").arg(text(session_->chosen_point()), text(photo));
  const auto camera_of = [&](const measure::Photo& of) -> std::optional<calib::Intrinsics> {
    if (session_->live()->survey) {
      if (const auto oriented = measure::oriented_photo(*session_->live()->survey, of.name)) {
        return oriented->camera;
      }
    }
    const auto camera = session_->cameras().find(of.camera);
    if (camera == session_->cameras().end()) return std::nullopt;
    return camera->second.intrinsics;
  };
  question->options.camera = camera_of(*about);

  const std::vector<std::string> pattern_photos = patterns_for(photo);
  for (const std::string& pattern_photo : pattern_photos) {
    measure::PatternView view;
    view.position_px = session_->mark_at(pattern_photo, session_->chosen_point())->position_px;
    if (const auto change = change_from_pattern(pattern_photo, photo)) {
      view.photo_from_pattern = *change;
    }
    question->patterns.push_back(view);
  }
  runner.ask(
      [store = store_, refiner = refiner_, question, photo, pattern_photos]() -> Refined {
        question->window = surroundings(*store, photo, question->position_px);
        if (question->window.pixels.empty()) {
          QString problem = store->problem(photo);
          if (problem.isEmpty()) problem = tr("the place lies outside the photo");
          return calib::Unexpected(RefineRefusal{problem, problem});
        }
        for (std::size_t n = 0; n < pattern_photos.size(); ++n) {
          measure::PatternView& view = question->patterns[n];
          view.photo = surroundings(*store, pattern_photos[n], view.position_px);
        }
        std::erase_if(question->patterns,
                      [](const measure::PatternView& view) { return view.photo.pixels.empty(); });
        return refiner(*question);
      },
      std::move(done));
}

std::optional<Eigen::Matrix2d> PointMarker::change_from_pattern(const std::string& pattern_photo,
                                                                const std::string& photo) const {
  if (!session_->live()->survey) return std::nullopt;
  const measure::Survey& survey = *session_->live()->survey;
  const auto from = measure::oriented_photo(survey, pattern_photo);
  const auto to = measure::oriented_photo(survey, photo);
  const measure::PointReport* report = session_->point_report(session_->chosen_point());
  if (!from || !to || !report || !report->placed) return std::nullopt;
  const Eigen::Vector3d normal = (from->pose.centre() - report->position).normalized() +
                                 (to->pose.centre() - report->position).normalized();
  if (normal.norm() < 0.1) return std::nullopt;  // seen from opposite sides
  return measure::window_change({from->camera, from->pose}, {to->camera, to->pose},
                                report->position, normal.normalized());
}

bool PointMarker::is_busy() const {
  return clicks_.under_way() > 0 || proposals_runner_.under_way() > 0 || !batches_.empty();
}

void PointMarker::click(const std::string& photo, const Eigen::Vector2d& at_px,
                        double magnification) {
  const std::string point = session_->chosen_point();
  if (point.empty()) {
    Q_EMIT said(tr("No point is chosen: choose one, or name a new one."));
    return;
  }
  measure::Mark mark;
  mark.photo = photo;
  mark.point = point;
  mark.position_px = at_px;
  mark.sigma_px = click_sigma_px(magnification);
  mark.source = measure::MarkSource::kByHand;
  remarks_.erase(photo);
  clicked_[photo] = mark;
  session_->change_soon(measure::set_mark(mark));
  refine_click(mark, magnification);  // meanwhile
}

void PointMarker::refine_click(const measure::Mark& clicked, double magnification) {
  if (refine_as_ == RefineAs::kNot) return;
  ask(clicked.photo, clicked.position_px, click_radius_px(magnification), clicks_,
      [this, clicked](const Refined& refined) {
        session_->in_turn(this, [this, clicked, refined] { take_refined(clicked, refined); });
      });
}

void PointMarker::take_refined(const measure::Mark& clicked, const Refined& refined) {
  // Only the very mark that was clicked is refined: not one nudged or taken back since, nor one
  // that the disk did not take.
  const measure::Mark* now = session_->mark_at(clicked.photo, clicked.point);
  if (!now || *now != clicked) return;
  if (!refined) {
    if (clicked.point == session_->chosen_point()) {
      remarks_[clicked.photo] = refined.error();
      Q_EMIT view_changed(clicked.photo);
    }
    return;
  }
  measure::Mark mark = clicked;
  mark.position_px = refined->mark.position_px;
  mark.sigma_px = refined->mark.sigma_px();
  mark.source = measure::MarkSource::kRefined;
  // Somebody clicked once: one undo takes back click and refinement.
  session_->change_further(measure::set_mark(mark), {mark.photo, mark.point});
}

void PointMarker::nudge(const std::string& photo, const Eigen::Vector2d& by_px) {
  const measure::Mark* now = session_->mark_at(photo, session_->chosen_point());
  if (!now) {
    Q_EMIT said(
        tr("No mark to nudge in %1: click, or accept the prediction first.").arg(text(photo)));
    return;
  }
  measure::Mark mark = *now;
  mark.position_px += by_px;
  if (mark.source != measure::MarkSource::kByHand) mark.sigma_px = click_sigma_px(1e9);
  mark.source = measure::MarkSource::kByHand;
  clicked_.erase(photo);
  remarks_.erase(photo);
  session_->change_soon(measure::set_mark(mark));
}

void PointMarker::back_to_click(const std::string& photo) {
  const auto clicked = clicked_.find(photo);
  const measure::Mark* now = session_->mark_at(photo, session_->chosen_point());
  if (clicked == clicked_.end() || !now || *now == clicked->second) return;
  session_->change_soon(measure::set_mark(clicked->second));
}

void PointMarker::remove(const std::string& photo) {
  const std::string& point = session_->chosen_point();
  if (!session_->mark_at(photo, point)) {
    Q_EMIT said(tr("No mark to remove in %1.").arg(text(photo)));
    return;
  }
  clicked_.erase(photo);
  remarks_.erase(photo);
  session_->change_soon(measure::RemoveMarks{{{photo, point}}});
}

void PointMarker::toggle_set_aside(const std::string& photo) {
  const std::string& point = session_->chosen_point();
  const measure::Mark* mark = session_->mark_at(photo, point);
  if (!mark) {
    Q_EMIT said(tr("No mark to set aside in %1.").arg(text(photo)));
    return;
  }
  session_->change_soon(measure::SetAside{{photo, point}, !mark->set_aside});
}

QString PointMarker::refused_before(const std::string& photo) const {
  const auto now = prediction(photo);
  if (!now) return tr("no predicted place in the frame");
  const measure::ErrorEllipse ellipse = measure::confidence_ellipse(now->covariance_px2);
  if (ellipse.semi_major > kLargestTrustedEllipse_px) {
    return tr("predicted too roughly to refine alone: click the place");
  }
  if (refine_as_ == RefineAs::kNot) return tr("refinement is off: click the place");
  return {};
}

void PointMarker::want_proposals(const std::vector<std::string>& photos) {
  if (refine_as_ == RefineAs::kNot) return;
  for (const std::string& photo : photos) propose(photo);
}

void PointMarker::propose(const std::string& photo) {
  const std::string point = session_->chosen_point();
  if (proposals_.contains(photo) || session_->mark_at(photo, point) || is_hidden(photo)) return;
  const auto now = prediction(photo);
  if (!now) return;
  if (const QString reason = refused_before(photo); !reason.isEmpty()) {
    Proposal refused;
    refused.state = Proposal::State::kRefused;
    refused.why_not = reason;
    settle(point, photo, {*now, std::move(refused), patterns_for(photo)});
    return;
  }
  Proposal under_way;
  under_way.state = Proposal::State::kUnderWay;
  const std::vector<std::string> patterns = patterns_for(photo);
  proposals_[photo] = {*now, under_way, patterns};
  ask(photo, now->position_px, search_radius_px(*now), proposals_runner_,
      [this, point, photo, asked = *now, patterns, era = era_](Refined refined) {
        const bool current = era == era_;
        const bool wanted = std::any_of(batches_.begin(), batches_.end(),
                                        [&](const auto& batch) { return batch->point == point; });
        if (!current && !wanted) return;
        Proposal proposal;
        proposal.state = Proposal::State::kRefused;
        if (!refined) {
          proposal.why_not = refined.error().clause;
          proposal.why_not_at_length = refined.error().sentence;
        } else if (const QString off = disagreement(asked, *refined); !off.isEmpty()) {
          proposal.why_not = off;
        } else {
          proposal.state = Proposal::State::kOffered;
          proposal.answer = std::move(*refined);
        }
        settle(point, photo, {asked, std::move(proposal), patterns});
      });
}

void PointMarker::settle(const std::string& point, const std::string& photo, Asked asked) {
  const Proposal& proposal = asked.proposal;
  const auto batches = batches_;  // finishing one takes it off the list
  for (const auto& batch : batches) {
    if (batch->point != point || batch->open.erase(photo) == 0) continue;
    if (proposal.state == Proposal::State::kOffered) {
      measure::Mark mark;
      mark.photo = photo;
      mark.point = point;
      mark.position_px = proposal.answer->mark.position_px;
      mark.sigma_px = proposal.answer->mark.sigma_px();
      mark.source = measure::MarkSource::kRefined;
      batch->marks.push_back(std::move(mark));
    } else {
      batch->left_open << text(photo);
      batch->last_reason = proposal.why_not;
    }
    if (batch->open.empty()) finish(*batch);
  }
  if (point != session_->chosen_point()) return;
  proposals_[photo] = std::move(asked);
  Q_EMIT view_changed(photo);
}

void PointMarker::accept(const std::vector<std::string>& photos) {
  auto batch = std::make_shared<Batch>();
  batch->point = session_->chosen_point();
  std::vector<std::string> asked;
  for (const std::string& photo : photos) {
    if (session_->mark_at(photo, batch->point) || is_hidden(photo)) continue;
    if (const QString reason = refused_before(photo); !reason.isEmpty()) {
      batch->left_open << text(photo);
      batch->last_reason = reason;
      continue;
    }
    batch->open.insert(photo);
    asked.push_back(photo);
  }
  batches_.push_back(batch);
  if (asked.empty()) {
    finish(*batch);
    return;
  }
  for (const std::string& photo : asked) {
    const auto known = proposals_.find(photo);
    if (known == proposals_.end()) {
      propose(photo);
    } else if (known->second.proposal.state != Proposal::State::kUnderWay) {
      settle(batch->point, photo, known->second);
    }
  }
}

void PointMarker::finish(Batch& ended) {
  const auto at = std::find_if(batches_.begin(), batches_.end(),
                               [&](const auto& one) { return one.get() == &ended; });
  if (at == batches_.end()) return;
  const std::shared_ptr<Batch> batch = *at;
  batches_.erase(at);
  session_->in_turn(this, [this, batch] {
    // What was clicked meanwhile stands.
    std::erase_if(batch->marks, [&](const measure::Mark& mark) {
      return session_->mark_at(mark.photo, mark.point) != nullptr;
    });
    if (batch->marks.empty()) {
      report(*batch);
      return;
    }
    session_->change_soon(measure::SetMarks{batch->marks}, this, [this, batch](bool done) {
      if (done) report(*batch);
    });
  });
}

void PointMarker::report(const Batch& batch) {
  const int marked = int(batch.marks.size()), open = int(batch.left_open.size());
  QString sentence;
  if (marked == 0 && open == 1) {
    sentence = tr("%1 was not marked: %2.").arg(batch.left_open.first(), batch.last_reason);
  } else if (marked == 0 && open == 0) {
    sentence = tr("Nothing to accept here: every view shown is marked or hidden.");
  } else if (marked == 0) {
    sentence = tr("Nothing refined well enough to be accepted: each view says why.");
  } else if (open > 0) {
    sentence = tr("Marks set: %1. Left open: %2; each view says why.").arg(marked).arg(open);
  } else {
    sentence = tr("Marks set: %1.").arg(marked);
  }
  if (batch.point != session_->chosen_point()) {  // chosen meanwhile
    Q_EMIT said(tr("%1: %2").arg(text(batch.point), sentence));
    return;
  }
  Q_EMIT said(sentence);
  Q_EMIT accepted(marked, batch.left_open);
}

bool PointMarker::is_hidden(const std::string& photo) const {
  const auto& hidden = session_->dossier().hidden;  // sorted
  return std::binary_search(hidden.begin(), hidden.end(),
                            measure::Hidden{photo, session_->chosen_point()});
}

void PointMarker::toggle_hidden(const std::string& photo, std::function<void(bool)> then) {
  const std::string& point = session_->chosen_point();
  if (point.empty()) return;
  if (session_->mark_at(photo, point)) {
    Q_EMIT said(tr("%1 holds a mark of this point: remove it before you say that it is not "
                   "visible there.")
                    .arg(text(photo)));
    return;
  }
  const bool hidden = !is_hidden(photo);
  session_->change_soon(measure::SetHidden{{{photo, point}}, hidden}, this,
                        [hidden, then = std::move(then)](bool done) {
                          if (done && then) then(hidden);
                        });
}

std::optional<Doubt> PointMarker::doubt(const std::string& photo) const {
  const std::string& point = session_->chosen_point();
  const measure::Mark* mark = session_->mark_at(photo, point);
  const measure::MarkReport* report = session_->report_of(photo, point);
  if (!mark || !report || !report->doubted) return std::nullopt;
  Doubt doubt;
  doubt.by_px = report->residual_px.norm();
  doubt.projected_px = point_of(mark->position_px + report->residual_px);
  doubt.w = report->w;
  doubt.critical_w = report->critical_w;
  QStringList others;
  for (const measure::Photo& other : session_->dossier().photos) {
    const measure::Mark* mark_there = session_->mark_at(other.name, point);
    if (other.name == photo || !mark_there || mark_there->set_aside) continue;
    if (session_->is_doubted(other.name, point)) continue;
    others << text(other.name);
  }
  doubt.against = others.join(tr(", "));
  return doubt;
}

Sighting PointMarker::sighting(const std::string& photo) const {
  Sighting sighting;
  const std::string& point = session_->chosen_point();
  if (point.empty()) {
    sighting.empty_word = tr("no point chosen");
    return sighting;
  }
  sighting.hidden = is_hidden(photo);
  sighting.is_pattern = pattern_photo() == photo;
  if (const auto place = places_->in_photo.find(photo); place != places_->in_photo.end()) {
    sighting.place = place->second;
    if (place->second.position_px && place->second.covariance_px2.trace() > 0) {
      sighting.ellipse = measure::confidence_ellipse(place->second.covariance_px2);
    }
  } else {
    sighting.empty_word = tr("nothing predicted yet: click the place");
  }
  if (const auto proposal = proposals_.find(photo); proposal != proposals_.end()) {
    sighting.proposal = proposal->second.proposal;
  }
  if (const auto remark = remarks_.find(photo); remark != remarks_.end()) {
    sighting.remark = remark->second.clause;
    sighting.remark_at_length = remark->second.sentence;
  }
  const measure::Mark* mark = session_->mark_at(photo, point);
  if (!mark) return sighting;
  Sighting::Marked marked;
  marked.at_px = point_of(mark->position_px);
  marked.state = state_of(*mark, session_->is_doubted(photo, point));
  marked.sigma_px = mark->sigma_px;
  if (const auto clicked = clicked_.find(photo);
      clicked != clicked_.end() && mark->source == measure::MarkSource::kRefined) {
    marked.clicked_px = point_of(clicked->second.position_px);
  }
  sighting.mark = marked;
  sighting.doubt = doubt(photo);
  return sighting;
}

}  // namespace desk
