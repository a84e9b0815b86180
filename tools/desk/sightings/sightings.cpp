#include "tools/desk/sightings/sightings.h"

#include <QApplication>
#include <QHBoxLayout>
#include <QLocale>
#include <QPainter>
#include <QScrollBar>
#include <QSignalBlocker>
#include <QStyle>
#include <QTimer>
#include <QVBoxLayout>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace desk {
namespace {

constexpr int kGap = 6;
constexpr int kViewWidth = 264, kViewHeight = 252;
constexpr double kLeastMagnification = 1.0, kMostMagnification = 16.0;

QString text(const std::string& words) { return QString::fromStdString(words); }

/// One line, cut short with an ellipsis where the room ends; all of it is in the tooltip.
class HintLine : public QLabel {
 public:
  using QLabel::QLabel;

 protected:
  void paintEvent(QPaintEvent*) override {
    const QRect room = contentsRect();
    const QString shown = fontMetrics().elidedText(text(), Qt::ElideRight, room.width());
    QPainter painter(this);
    style()->drawItemText(&painter, room, int(Qt::AlignLeft | Qt::AlignVCenter), palette(),
                          isEnabled(), shown, foregroundRole());
    const QString rest = shown == text() ? QString() : text();
    if (toolTip() != rest) setToolTip(rest);
  }
};

/// Turn that EXIF asks for, clockwise, degrees: CIPA DC-008 (Exif 2.3), tag Orientation.
double exif_turn_deg(int orientation) {
  switch (orientation) {
    case 3:
    case 4:
      return 180;
    case 5:
    case 6:
      return 90;
    case 7:
    case 8:
      return 270;
    default:
      return 0;
  }
}

}  // namespace

Sightings::Sightings(DeskSession* session, PhotoStore* store, KeyBook* keys, Refiner refiner,
                     QWidget* parent)
    : QWidget(parent),
      session_(session),
      store_(store),
      marker_(session, store, std::move(refiner)),
      finder_(session) {
  setObjectName("sightings");
  setFocusPolicy(Qt::StrongFocus);
  build();
  add_keys(keys);

  connect(session_, &DeskSession::point_chosen, this, &Sightings::point_changed);
  connect(session_, &DeskSession::live_changed, this, [this] {
    places_due_ = true;
    finder_.ask(session_->chosen_point());
    refresh();
  });
  connect(session_, &DeskSession::dossier_changed, this, [this](const measure::Edit&) {
    sync_views();
    refresh();
    // A first mark makes lines of sight without waiting for new numbers.
    places_due_ = true;
    finder_.ask(session_->chosen_point());
  });
  connect(session_, &DeskSession::photo_chosen, this, [this](const std::string& photo) {
    if (SightingView* chosen = view(photo); chosen && chosen->isVisible() && !chosen->hasFocus()) {
      scroll_->ensureWidgetVisible(chosen);
    }
  });
  connect(&finder_, &PlaceFinder::found, this, &Sightings::take_places);
  connect(&marker_, &PointMarker::view_changed, this, &Sightings::refresh_view);
  connect(&marker_, &PointMarker::said, this, &Sightings::say);
  connect(session_, &DeskSession::refused, hint_, &QLabel::setText);
  connect(keys, &KeyBook::keys_changed, this, &Sightings::point_changed);
  connect(&marker_, &PointMarker::accepted, this, &Sightings::go_on);
  sync_views();
  point_changed();
}

void Sightings::build() {
  header_ = new PointHeader(session_, this);

  auto* bar = new QWidget(this);
  // In the dark palette a pressed button of the style looks like the others.
  bar->setStyleSheet(
      "QToolButton:checked { background: palette(highlight); color: palette(highlighted-text);"
      " border: 1px solid palette(shadow); border-radius: 3px; }");
  auto* row = new QHBoxLayout(bar);
  row->setContentsMargins(8, 2, 8, 4);
  chips_ = new QButtonGroup(this);
  chips_->setExclusive(true);
  const std::pair<const char*, QString> chips[] = {
      {"sightings.chip.all", tr("Every photo of the dossier")},
      {"sightings.chip.could_be_seen",
       tr("Photos in which the point is marked, or could be seen as far as is known")},
      {"sightings.chip.marked", tr("Photos in which the point is marked")},
      {"sightings.chip.doubted", tr("Photos whose mark of the point is doubted")}};
  int number = 0;
  for (const auto& [name, tip] : chips) {
    auto* chip = new QToolButton(bar);
    chip->setObjectName(name);
    chip->setCheckable(true);
    chip->setToolTip(tip);
    chip->setFocusPolicy(Qt::NoFocus);
    chips_->addButton(chip, number++);
    row->addWidget(chip);
  }
  chips_->button(int(filter_))->setChecked(true);
  connect(chips_, &QButtonGroup::idClicked, this,
          [this](int id) { set_filter(SightingFilter(id)); });
  row->addStretch(1);

  auto* refine_label = new QLabel(tr("refine"), bar);
  refine_as_ = new QComboBox(bar);
  refine_as_->setObjectName("sightings.refine_as");
  refine_as_->setToolTip(tr("What a mark is taken to sit on when it is refined"));
  refine_as_->setFocusPolicy(Qt::ClickFocus);
  for (int as = 0; as < kRefineAsCount; ++as) refine_as_->addItem(word_of(RefineAs(as)));
  connect(refine_as_, &QComboBox::currentIndexChanged, this, [this](int as) {
    marker_.set_refine_as(RefineAs(as));
    Q_EMIT ways_changed();
    refresh();
    want_proposals();
  });
  refine_label->setBuddy(refine_as_);
  row->addWidget(refine_label);
  row->addWidget(refine_as_);

  way_up_ = new QToolButton(bar);
  way_up_->setObjectName("sightings.way_up");
  way_up_->setText(tr("same way up"));
  way_up_->setCheckable(true);
  way_up_->setFocusPolicy(Qt::NoFocus);
  way_up_->setToolTip(tr("Turns every view so that the original's up is up"));
  connect(way_up_, &QToolButton::toggled, this, &Sightings::turn_views);
  row->addWidget(way_up_);

  pair_button_ = new QToolButton(bar);
  pair_button_->setObjectName("sightings.pair_mode");
  pair_button_->setText(tr("two photos"));
  pair_button_->setCheckable(true);
  pair_button_->setFocusPolicy(Qt::NoFocus);
  pair_button_->setToolTip(
      tr("Two photos side by side, with the line of sight of the place under the cursor"));
  connect(pair_button_, &QToolButton::toggled, this, &Sightings::set_pair);
  row->addWidget(pair_button_);

  magnifier_ = new QSlider(Qt::Horizontal, bar);
  magnifier_->setObjectName("sightings.magnifier");
  magnifier_->setRange(0, 32);  // eighths of a doubling
  magnifier_->setMinimumWidth(50);
  magnifier_->setMaximumWidth(110);
  magnifier_->setFocusPolicy(Qt::NoFocus);
  magnifier_->setToolTip(tr("Screen pixels for one pixel of the photo; Ctrl and wheel in a view"));
  magnifier_->setValue(int(std::lround(8 * std::log2(magnification_))));
  connect(magnifier_, &QSlider::valueChanged, this,
          [this](int eighths) { set_magnification(std::exp2(eighths / 8.0)); });
  row->addWidget(magnifier_);

  scroll_ = new QScrollArea(this);
  scroll_->setObjectName("sightings.scroll");
  scroll_->setFrameShape(QFrame::NoFrame);
  scroll_->setHorizontalScrollBarPolicy(Qt::ScrollBarAlwaysOff);
  scroll_->setVerticalScrollBarPolicy(Qt::ScrollBarAlwaysOn);  // the width must not change
  scroll_->setFocusPolicy(Qt::NoFocus);
  grid_ = new QWidget;
  grid_->setObjectName("sightings.grid");
  scroll_->setWidget(grid_);
  connect(scroll_->verticalScrollBar(), &QScrollBar::valueChanged, this,
          &Sightings::want_proposals);

  empty_ = new QLabel(this);
  empty_->setObjectName("sightings.empty");
  empty_->setAlignment(Qt::AlignCenter);
  empty_->setWordWrap(true);
  pair_ = new PairView(session_, store_, this);
  connect(pair_, &PairView::made, this, &Sightings::connect_view);
  connect(pair_->tone_row(), &ToneRow::tone_changed, this, [this](const Tone& tone) {
    for (auto& [photo, one] : views_) one->set_tone(tone);
    for (const int side : {0, 1}) {
      if (pair_->side(side)) pair_->side(side)->set_tone(tone);
    }
    Q_EMIT tone_changed(tone);
  });
  connect(pair_, &PairView::photos_changed, this, [this] {
    refresh();
    turn_views();
  });
  stack_ = new QStackedWidget(this);
  stack_->addWidget(scroll_);
  stack_->addWidget(pair_);
  stack_->addWidget(empty_);

  hint_ = new HintLine(this);
  hint_->setObjectName("sightings.hint");
  hint_->setSizePolicy(QSizePolicy::Ignored, QSizePolicy::Preferred);
  hint_->setContentsMargins(8, 2, 8, 4);

  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(0, 0, 0, 0);
  column->setSpacing(0);
  column->addWidget(header_);
  column->addWidget(bar);
  column->addWidget(stack_, 1);
  column->addWidget(hint_);
  connect(header_, &PointHeader::named, this, &Sightings::focus_view);
}

SightingView* Sightings::view(const std::string& photo) const {
  const auto at = views_.find(photo);
  return at == views_.end() ? nullptr : at->second;
}

SightingView* Sightings::focused() const {
  auto* at = qobject_cast<SightingView*>(QApplication::focusWidget());
  if (at && isAncestorOf(at)) return at;
  if (stack_->currentWidget() == pair_) return pair_->side(0);
  SightingView* last = view(last_focused_);
  return last && !last->isHidden() ? last : nullptr;
}

void Sightings::sync_views() {
  const auto& photos = session_->dossier().photos;
  const bool same = photos.size() == views_.size() &&
                    std::all_of(photos.begin(), photos.end(), [&](const measure::Photo& photo) {
                      return views_.contains(photo.name);
                    });
  if (same) return;
  std::map<std::string, SightingView*> views;
  for (const measure::Photo& photo : photos) {
    if (const auto old = views_.find(photo.name); old != views_.end()) {
      views.insert(views_.extract(old));
      continue;
    }
    auto* made = new SightingView(store_, photo.name, {photo.size.width, photo.size.height}, grid_);
    made->hide();
    made->set_tone(tone());
    connect_view(made);
    views.emplace(photo.name, made);
  }
  for (auto& [photo, gone] : views_) gone->deleteLater();
  views_ = std::move(views);
  sort_anew();
  turn_views();
}

void Sightings::connect_view(SightingView* made) {
  connect(made, &SightingView::clicked_at, this, [this, made](const QPointF& at_px) {
    marker_.click(made->photo(), {at_px.x(), at_px.y()}, made->magnification());
  });
  connect(made, &SightingView::wanted_nearer, this, [this, made](const QPointF& at_px) {
    made->look_nearer(at_px, magnification_);
    refresh_view(made->photo());
  });
  connect(made, &SightingView::magnified, this,
          [this](double factor) { set_magnification(magnification_ * factor); });
  connect(made, &SightingView::opened, this, [this, made] { Q_EMIT photo_opened(made->photo()); });
}

void Sightings::point_changed() {
  order_due_ = true;
  for (auto& [photo, one] : views_) one->forget_middle();
  for (const int side : {0, 1}) {
    if (pair_->side(side)) pair_->side(side)->forget_middle();
  }
  hint_->setText(key_hint());
  places_due_ = true;
  const std::string& point = session_->chosen_point();
  if (point.empty() || views_.empty()) {
    empty_->setText(views_.empty() ? tr("No photos yet. Add photographs of the original first.")
                    : session_->dossier().points.empty()
                        ? tr("No points yet. Name the first one%1, then click it in every photo.")
                              .arg(key_of("new_point"))
                        : tr("Choose a point to see it in all photos at once, or name a new one%1.")
                              .arg(key_of("new_point")));
    stack_->setCurrentWidget(empty_);
  } else if (stack_->currentWidget() == empty_) {
    stack_->setCurrentWidget(pair_button_->isChecked() ? static_cast<QWidget*>(pair_) : scroll_);
  }
  refresh();
  finder_.ask(point);
}

QString Sightings::key_of(const char* id) const {
  const auto* action = findChild<QAction*>(QString("sightings.") + id);
  const QString key = action ? action->shortcut().toString(QKeySequence::NativeText) : QString();
  return key.isEmpty() ? QString() : " [" + key + "]";
}

QString Sightings::key_hint() const {
  return tr("A click marks · accept%1 · accept all%2 · not visible%3 · next view without mark%4 · "
            "next point%5 · new point%6")
      .arg(key_of("accept"), key_of("accept_all"), key_of("hidden"), key_of("next_unmarked"),
           key_of("next_point"), key_of("new_point"));
}

void Sightings::say(const QString& sentence) {
  hint_->setText(sentence);
  Q_EMIT said(sentence);
}

void Sightings::take_places(std::shared_ptr<const Places> places) {
  if (places->point != session_->chosen_point()) return;
  places_due_ = places->state != session_->live();
  marker_.take_places(std::move(places));
  if (order_due_) {
    order_due_ = false;
    sort_anew();
  }
  turn_views();
  refresh();
  want_proposals();
}

void Sightings::sort_anew() {
  order_ = view_order(*session_, marker_.places());
  // The pattern view stands first.
  const std::string pattern = marker_.pattern_photo();
  if (const auto at = std::find(order_.begin(), order_.end(), pattern); at != order_.end()) {
    std::rotate(order_.begin(), at, at + 1);
  }
  shown_.clear();
  for (const std::string& photo : order_) {
    const bool out = filter_ == SightingFilter::kCouldBeSeen && marker_.is_hidden(photo);
    if (!out && passes(filter_, *session_, marker_.places(), photo)) shown_.push_back(photo);
  }
  lay_out();
  focus_view();
}

void Sightings::set_tone(const Tone& tone) { pair_->tone_row()->set_tone(tone); }

void Sightings::set_refine_as(RefineAs as) { refine_as_->setCurrentIndex(int(as)); }

void Sightings::set_filter(SightingFilter filter) {
  filter_ = filter;
  chips_->button(int(filter))->setChecked(true);
  sort_anew();
  refresh();
  want_proposals();
}

void Sightings::lay_out() {
  const int width = std::max(scroll_->viewport()->width(), kViewWidth + 2 * kGap);
  const int columns = std::max(1, (width - kGap) / (kViewWidth + kGap));
  const int view_width = (width - kGap) / columns - kGap;
  const int view_height = int(std::lround(view_width * double(kViewHeight) / kViewWidth));
  const std::set<std::string> shown(shown_.begin(), shown_.end());
  for (auto& [photo, one] : views_) {
    if (!shown.contains(photo)) one->hide();
  }
  QWidget* before = nullptr;
  for (std::size_t n = 0; n < shown_.size(); ++n) {
    SightingView* one = view(shown_[n]);
    if (!one) continue;
    const int column = int(n) % columns, line = int(n) / columns;
    one->setGeometry(kGap + column * (view_width + kGap), kGap + line * (view_height + kGap),
                     view_width, view_height);
    one->show();
    if (before) setTabOrder(before, one);
    before = one;
  }
  const int lines = (int(shown_.size()) + columns - 1) / columns;
  grid_->resize(width, kGap + lines * (view_height + kGap));
  for (const std::string& photo : shown_) middle(*view(photo));
}

void Sightings::middle(SightingView& one) { one.find_middle(magnification_); }

void Sightings::refresh_view(const std::string& photo) {
  if (SightingView* one = view(photo)) {
    one->set_sighting(marker_.sighting(photo));
    middle(*one);
  }
  for (const int side : {0, 1}) {
    SightingView* one = pair_->side(side);
    if (one && one->photo() == photo) {
      one->set_sighting(marker_.sighting(photo));
      middle(*one);
    }
  }
}

void Sightings::refresh() {
  for (auto& [photo, one] : views_) {
    one->set_sighting(marker_.sighting(photo));
    if (!one->isHidden()) middle(*one);
  }
  pair_->refresh([this](const std::string& photo) { return marker_.sighting(photo); });
  for (const int side : {0, 1}) {
    if (SightingView* one = pair_->side(side)) middle(*one);
  }
  count_chips();
}

void Sightings::count_chips() {
  int counts[4] = {};
  for (const auto& [photo, one] : views_) {
    for (int f = 0; f < 4; ++f) {
      const bool out =
          SightingFilter(f) == SightingFilter::kCouldBeSeen && marker_.is_hidden(photo);
      counts[f] += !out && passes(SightingFilter(f), *session_, marker_.places(), photo) ? 1 : 0;
    }
  }
  const QString words[4] = {tr("all"), tr("could be seen"), tr("marked"), tr("doubted")};
  for (int f = 0; f < 4; ++f) {
    chips_->button(f)->setText(words[f] + "  " + QLocale().toString(counts[f]));
  }
}

std::vector<std::string> Sightings::on_screen() const {
  std::vector<std::string> photos;
  if (stack_->currentWidget() == pair_) {
    for (const int side : {0, 1}) {
      if (pair_->side(side)) photos.push_back(pair_->side(side)->photo());
    }
    return photos;
  }
  for (const std::string& photo : shown_) {
    const SightingView* one = view(photo);
    const QRect seen = one->visibleRegion().boundingRect();
    if (seen.height() * 2 > one->height()) photos.push_back(photo);
  }
  return photos;
}

void Sightings::want_proposals() {
  std::vector<std::string> photos;
  for (const std::string& photo : on_screen()) {
    const auto place = marker_.places().in_photo.find(photo);
    if (place == marker_.places().in_photo.end()) continue;
    if (place->second.sight == measure::Sight::kHidden) continue;
    photos.push_back(photo);
  }
  marker_.want_proposals(photos);
}

void Sightings::accept_all() {
  std::vector<std::string> here, below;
  const auto seen = on_screen();
  for (const std::string& photo : stack_->currentWidget() == pair_ ? seen : shown_) {
    const auto place = marker_.places().in_photo.find(photo);
    if (place == marker_.places().in_photo.end() || !place->second.position_px) continue;
    if (place->second.sight == measure::Sight::kHidden ||
        place->second.sight == measure::Sight::kOutside) {
      continue;  // one by one only, by somebody who sees it
    }
    if (session_->mark_at(photo, session_->chosen_point()) || marker_.is_hidden(photo)) continue;
    const bool now = std::find(seen.begin(), seen.end(), photo) != seen.end();
    (now ? here : below).push_back(photo);
  }
  if (here.empty() && !below.empty()) {
    // Nothing is accepted that nobody saw: first it is shown.
    show_focused(view(below.front()));
    say(tr("More views wait further down (%1): look, then accept again.").arg(below.size()));
    return;
  }
  marker_.accept(here);
}

bool Sightings::is_settled() const {
  const auto live = session_->live();
  return !order_due_ && !places_due_ && !marker_.is_busy() && !session_->live_is_behind() &&
         (live->survey || live->problem);
}

void Sightings::focus_view() {
  if (!isVisible()) return;
  if (stack_->currentWidget() != scroll_ || shown_.empty()) {
    if (stack_->currentWidget() != pair_) setFocus(Qt::OtherFocusReason);  // the keys still work
    return;
  }
  for (const std::string& photo : shown_) {
    if (!session_->mark_at(photo, session_->chosen_point())) {
      show_focused(view(photo));
      return;
    }
  }
  show_focused(view(shown_.front()));
}

void Sightings::go_on(int marked, const QStringList& left_open) {
  if (stack_->currentWidget() != scroll_) return;
  // To the first view that needs a hand; after a single mark to the next one without.
  for (const std::string& photo : shown_) {
    if (left_open.contains(text(photo))) {
      show_focused(view(photo));
      return;
    }
  }
  const SightingView* now = focused();
  if (marked == 0 || !now || !session_->mark_at(now->photo(), session_->chosen_point())) return;
  const bool any_open = std::any_of(shown_.begin(), shown_.end(), [&](const std::string& photo) {
    return !session_->mark_at(photo, session_->chosen_point()) && !marker_.is_hidden(photo);
  });
  if (any_open) focus_step(1, true);
}

void Sightings::show_focused(SightingView* one) {
  if (!one) return;
  one->setFocus(Qt::OtherFocusReason);
  last_focused_ = one->photo();
  scroll_->ensureWidgetVisible(one, 0, kGap);
}

void Sightings::focus_step(int by, bool unmarked_only) {
  if (stack_->currentWidget() == pair_) {
    SightingView* left = pair_->side(0);
    (focused() == left ? pair_->side(1) : left)->setFocus(Qt::OtherFocusReason);
    return;
  }
  if (shown_.empty()) return;
  const SightingView* now = focused();
  const auto at = now ? std::find(shown_.begin(), shown_.end(), now->photo()) : shown_.end();
  const auto count = std::ptrdiff_t(shown_.size());
  std::ptrdiff_t next = at == shown_.end() ? (by > 0 ? -1 : count) : at - shown_.begin();
  for (std::ptrdiff_t tried = 0; tried < count; ++tried) {
    next = (next + by + count) % count;
    const std::string& photo = shown_[std::size_t(next)];
    if (unmarked_only &&
        (session_->mark_at(photo, session_->chosen_point()) || marker_.is_hidden(photo))) {
      continue;
    }
    show_focused(view(photo));
    return;
  }
  say(tr("Every view shown is marked or hidden."));
}

void Sightings::nudge(double x, double y) {
  SightingView* one = focused();
  if (!one) return;
  // Along the screen, also where the view is turned.
  const QPointF here = one->photo_from_widget({0, 0}), there = one->photo_from_widget({x, y});
  const QPointF by = (there - here) * one->magnification();
  marker_.nudge(one->photo(), {by.x(), by.y()});
}

void Sightings::set_magnification(double magnification) {
  magnification_ = std::clamp(magnification, kLeastMagnification, kMostMagnification);
  {
    const QSignalBlocker quiet(magnifier_);
    magnifier_->setValue(int(std::lround(8 * std::log2(magnification_))));
  }
  const auto enlarge = [this](SightingView* one) {
    if (one->centred() == Centred::kOnMark || one->centred() == Centred::kOnPlace) {
      one->set_magnification(magnification_);
    } else if (one == focused()) {
      one->look_nearer(one->centre_px(), magnification_);
    }
  };
  for (auto& [photo, one] : views_) enlarge(one);
  for (const int side : {0, 1}) {
    if (pair_->side(side)) enlarge(pair_->side(side));
  }
}

void Sightings::turn_views() {
  const auto& turns = marker_.places().turn_rad;
  const auto turn = [&](SightingView* one) {
    const auto found = turns.find(one->photo());
    const measure::Photo* photo = session_->dossier().find_photo(one->photo());
    if (way_up_->isChecked() && found != turns.end()) {
      one->set_turn(found->second * 180.0 / std::numbers::pi);
    } else if (photo) {
      one->set_turn(exif_turn_deg(photo->exif_orientation));
    }
  };
  for (auto& [photo, one] : views_) turn(one);
  for (const int side : {0, 1}) {
    if (pair_->side(side)) turn(pair_->side(side));
  }
}

void Sightings::set_pair(bool on) {
  pair_button_->setChecked(on);
  if (!on) {
    stack_->setCurrentWidget(session_->chosen_point().empty() ? static_cast<QWidget*>(empty_)
                                                              : scroll_);
    want_proposals();
    focus_view();
    return;
  }
  if (order_.size() < 2) {
    say(tr("Two photos are needed to set them side by side."));
    pair_button_->setChecked(false);
    return;
  }
  const SightingView* now = focused();
  const std::string left = order_.front();
  std::string right = now ? now->photo() : order_[1];
  if (right == left) right = order_[1];
  stack_->setCurrentWidget(pair_);
  pair_->show_pair(left, right);
  pair_->side(1)->setFocus(Qt::OtherFocusReason);
}

void Sightings::go_to(const std::string& point) {
  if (point.empty()) {
    say(tr("There is no such point."));
    return;
  }
  session_->choose_point(point);
}

void Sightings::resizeEvent(QResizeEvent* event) {
  QWidget::resizeEvent(event);
  lay_out();
  want_proposals();
}

void Sightings::showEvent(QShowEvent* event) {
  QWidget::showEvent(event);
  // The scroll area has its size only now.
  QTimer::singleShot(0, this, [this] {
    lay_out();
    focus_view();
    want_proposals();
  });
}

template <typename Action>
void Sightings::with_focused(Action action) {
  if (SightingView* one = focused()) {
    action(*one);
  } else {
    say(tr("No view is chosen: click one, or step to it."));
  }
}

void Sightings::add_keys(KeyBook* keys) {
  const QString place = tr("Sightings");
  const auto add = [&](const char* id, const QString& words, const QString& tip,
                       const QKeySequence& key, std::function<void()> what) {
    // A key pressed while an edit is on its way to the disk means what comes after that.
    const auto in_turn = [this, what = std::move(what)] {
      const std::string point = session_->chosen_point();
      session_->in_turn(this, [this, point, what] {
        if (point == session_->chosen_point()) {
          what();
        } else {
          say(tr("Another point was chosen before the key could be followed: press it again."));
        }
      });
    };
    return keys->add(this, place, QString("sightings.") + id, words, tip, key, in_turn);
  };
  const auto on_photo = [this](auto action) {
    return [this, action] { with_focused([&](SightingView& one) { action(one.photo()); }); };
  };

  add("accept", tr("Accept the prediction"),
      tr("Marks the chosen view at the predicted place, refined"), Qt::Key_Space,
      on_photo([this](const std::string& photo) {
        if (session_->mark_at(photo, session_->chosen_point())) {
          focus_step(1, true);
          return;
        }
        marker_.accept({photo});
      }));
  add("accept_all", tr("Accept all predictions"),
      tr("Marks every view on the screen whose prediction refines well enough"),
      QKeySequence(Qt::SHIFT | Qt::Key_Space), [this] { accept_all(); });
  add("hidden", tr("Not visible here"),
      tr("Says that the point is not visible in the chosen view, or takes that back"), Qt::Key_H,
      on_photo([this](const std::string& photo) {
        marker_.toggle_hidden(photo, [this, point = session_->chosen_point()](bool hidden) {
          if (hidden && point == session_->chosen_point()) focus_step(1, true);
        });
      }));
  add("remove", tr("Remove the mark"), tr("Removes the mark of the chosen view"), Qt::Key_Delete,
      on_photo([this](const std::string& photo) { marker_.remove(photo); }));
  add("set_aside", tr("Set aside, or take back"),
      tr("Keeps the mark of the chosen view but leaves it out, or uses it again"), Qt::Key_A,
      on_photo([this](const std::string& photo) { marker_.toggle_set_aside(photo); }));
  add("back_to_click", tr("Back to the clicked place"),
      tr("Undoes the refinement of the chosen view's mark"), Qt::Key_Escape,
      on_photo([this](const std::string& photo) { marker_.back_to_click(photo); }));

  const struct {
    const char* id;
    QString words;
    Qt::Key key;
    double x, y;
  } arrows[] = {{"nudge_left", tr("Nudge left"), Qt::Key_Left, -1, 0},
                {"nudge_right", tr("Nudge right"), Qt::Key_Right, 1, 0},
                {"nudge_up", tr("Nudge up"), Qt::Key_Up, 0, -1},
                {"nudge_down", tr("Nudge down"), Qt::Key_Down, 0, 1}};
  for (const auto& arrow : arrows) {
    add(arrow.id, arrow.words, tr("Moves the mark of the chosen view by 0.1 px"), arrow.key,
        [this, x = arrow.x, y = arrow.y] { nudge(0.1 * x, 0.1 * y); });
    add((std::string(arrow.id) + "_far").c_str(), tr("%1, ten times").arg(arrow.words),
        tr("Moves the mark of the chosen view by 1 px"), QKeySequence(Qt::SHIFT | arrow.key),
        [this, x = arrow.x, y = arrow.y] { nudge(x, y); });
  }

  add("next_view", tr("Next view"), tr("Gives the keys to the next view"), Qt::Key_Period,
      [this] { focus_step(1, false); });
  add("previous_view", tr("Previous view"), tr("Gives the keys to the view before"), Qt::Key_Comma,
      [this] { focus_step(-1, false); });
  add("next_unmarked", tr("Next view without mark"),
      tr("Gives the keys to the next view that is neither marked nor hidden"), Qt::Key_U,
      [this] { focus_step(1, true); });
  add("next_point", tr("Next point"), tr("Chooses the next point of the dossier"), Qt::Key_PageDown,
      [this] { go_to(neighbour(session_->dossier(), session_->chosen_point(), 1)); });
  add("previous_point", tr("Previous point"), tr("Chooses the point before in the dossier"),
      Qt::Key_PageUp,
      [this] { go_to(neighbour(session_->dossier(), session_->chosen_point(), -1)); });
  add("next_lacking", tr("Next point that lacks marks"),
      tr("Chooses the next point with fewer than two marks, else one with the fewest"),
      QKeySequence(Qt::SHIFT | Qt::Key_PageDown),
      [this] { go_to(next_lacking(session_->dossier(), session_->chosen_point())); });
  add("new_point", tr("New point"), tr("Asks for the name of a new point, a free one offered"),
      Qt::Key_N, [this] { header_->ask_for_name(); });

  add("pattern", tr("Take as pattern view"),
      tr("Matches are taken from the chosen view's mark from now on"), Qt::Key_P,
      on_photo([this](const std::string& photo) {
        marker_.set_pattern_photo(photo);
        want_proposals();
        Q_EMIT ways_changed();
      }));
  add("refine_next", tr("Refine as the next shape"),
      tr("Goes through what a mark is taken to sit on: as it looks, corner, round …"), Qt::Key_R,
      [this] { refine_as_->setCurrentIndex((refine_as_->currentIndex() + 1) % kRefineAsCount); });
  add("way_up", tr("Same way up"), way_up_->toolTip(), Qt::Key_W, [this] { way_up_->toggle(); });
  add("pair", tr("Two photos"), pair_button_->toolTip(), Qt::Key_D,
      [this] { pair_button_->toggle(); });
  add("pair_next", tr("Another photo on this side"),
      tr("With two photos side by side: exchanges the chosen one for the next"),
      QKeySequence(Qt::SHIFT | Qt::Key_Period), [this] {
        if (stack_->currentWidget() == pair_) pair_->step(focused() == pair_->side(0) ? 0 : 1, 1);
      });
  add("larger", tr("Larger"), tr("Enlarges the views by a fifth"), Qt::Key_Plus,
      [this] { set_magnification(magnification_ * std::exp2(0.25)); });
  add("smaller", tr("Smaller"), tr("Makes the views show more around the place"), Qt::Key_Minus,
      [this] { set_magnification(magnification_ * std::exp2(-0.25)); });
  add("brighter", tr("Brighter"), tr("Shows the photos brighter; the files stay"), Qt::Key_B,
      [this] { pair_->tone_row()->brighter(); });
  add("local_more", tr("More local contrast"), tr("Lights up dark regions; the files stay"),
      Qt::Key_L, [this] { pair_->tone_row()->more_local(); });
  add("plain", tr("Photos as they are"),
      tr("Brightness, contrast and local contrast back to nothing"),
      QKeySequence(Qt::SHIFT | Qt::Key_B), [this] { set_tone({}); });
  add("middle", tr("Back to the middle"),
      tr("Brings mark or prediction back to the middle of every view"), Qt::Key_M, [this] {
        for (auto& [photo, one] : views_) one->forget_middle();
        refresh();
      });
  add("sort_anew", tr("Sort the views anew"),
      tr("Marked views first, then those that should see the point best"), Qt::Key_O, [this] {
        sort_anew();
        refresh();
        want_proposals();
      });
  const QString chip_words[] = {tr("Show all"), tr("Show what could be seen"),
                                tr("Show what is marked"), tr("Show what is doubted")};
  const char* chip_ids[] = {"show_all", "show_could_be_seen", "show_marked", "show_doubted"};
  for (int f = 0; f < 4; ++f) {
    add(chip_ids[f], chip_words[f], chips_->button(f)->toolTip(), QKeySequence(Qt::Key_1 + f),
        [this, f] { set_filter(SightingFilter(f)); });
  }
}

}  // namespace desk
