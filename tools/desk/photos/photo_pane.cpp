#include "tools/desk/photos/photo_pane.h"

#include <QCheckBox>
#include <QComboBox>
#include <QHBoxLayout>
#include <QLabel>
#include <QLocale>
#include <QPushButton>
#include <QSignalBlocker>
#include <QVBoxLayout>

#include "tools/desk/look/key_book.h"
#include "tools/desk/photos/photo_canvas.h"
#include "tools/desk/photos/photo_store.h"
#include "tools/desk/photos/tone_row.h"
#include "tools/desk/session/desk_session.h"

namespace desk {
namespace {

constexpr double kNudge_px = 0.1, kLargeNudge_px = 1.0;
constexpr double kLookZoom = 2.0;  // widget pixels a photo pixel, at least, when looking at a point

QString words(const std::string& text) { return QString::fromStdString(text); }

}  // namespace

PhotoPane::PhotoPane(DeskSession* session, PhotoStore* store, KeyBook* keys, QWidget* parent)
    : QWidget(parent), session_(session), store_(store) {
  setObjectName("photo_pane");
  caption_ = new QLabel(this);
  caption_->setObjectName("photo_caption");
  caption_->setTextInteractionFlags(Qt::TextSelectableByMouse);
  caption_->setMinimumWidth(1);
  canvas_ = new PhotoCanvas(store, keys, tr("Photo"), "photo", this);
  sentence_ = new QLabel(this);
  sentence_->setObjectName("photo_sentence");
  sentence_->setWordWrap(true);
  // Room for two lines always: a longer sentence must not move the photo.
  sentence_->setMinimumHeight(2 * sentence_->fontMetrics().lineSpacing());
  sentence_->setMinimumWidth(1);
  aside_ = new QPushButton(tr("Set aside"), this);
  aside_->setObjectName("photo_aside");
  aside_->setToolTip(tr("Keeps the mark but leaves it out of the survey"));
  remove_ = new QPushButton(tr("Remove mark"), this);
  remove_->setObjectName("photo_remove");
  remove_->setToolTip(tr("Takes the chosen point's mark out of this photo"));
  side_button_ = new QPushButton(this);
  side_button_->setObjectName("photo_side");
  side_button_->setToolTip(tr("On which side of the cylinder's outline the next mark is set  [C]"));
  for (QPushButton* button : {aside_, remove_, side_button_}) button->setFocusPolicy(Qt::TabFocus);

  auto* below = new QHBoxLayout;
  below->addWidget(sentence_, 1);
  below->addWidget(side_button_);
  below->addWidget(aside_);
  below->addWidget(remove_);
  auto* column = new QVBoxLayout(this);
  column->setContentsMargins(6, 6, 6, 6);
  column->setSpacing(4);
  auto* above = new QHBoxLayout;
  above->addWidget(caption_, 1);
  add_parts(above);
  column->addLayout(above);
  column->addWidget(canvas_, 1);
  column->addLayout(below);
  tone_ = new ToneRow(this);
  column->addWidget(tone_);
  setFocusProxy(canvas_);

  connect(tone_, &ToneRow::tone_changed, this, [this](const Tone& tone) {
    canvas_->set_tone(tone);
    Q_EMIT tone_changed(tone);
  });
  connect(aside_, &QPushButton::clicked, this, &PhotoPane::toggle_aside);
  connect(remove_, &QPushButton::clicked, this, &PhotoPane::remove_mark);
  connect(side_button_, &QPushButton::clicked, this, &PhotoPane::change_side);
  connect(session_, &DeskSession::shape_chosen, this, [this] {
    pending_.reset();
    in_hand_.reset();
    side_ = 1;
    take();
  });
  connect(canvas_, &PhotoCanvas::point_clicked, this,
          [this](const std::string& point) { click_point(point); });
  connect(canvas_, &PhotoCanvas::place_clicked, this,
          [this](const QPointF& at) { click_place(at); });
  connect(canvas_, &PhotoCanvas::mark_dragged, this,
          [this](const std::string& point, const QPointF& at) {
            pending_.reset();
            place_mark(point, at);
          });
  connect(canvas_, &PhotoCanvas::shape_mark_dragged, this,
          [this](const std::string& shape, const QPointF& from, const QPointF& to) {
            pending_.reset();
            move_shape_mark(shape, from, to);
          });
  connect(session_, &DeskSession::photo_chosen, this, &PhotoPane::show_chosen_photo);
  connect(session_, &DeskSession::dossier_changed, this, [this] {
    // The photo may have gone, or changed its camera.
    show_chosen_photo();
    take();
  });
  connect(session_, &DeskSession::live_changed, this, &PhotoPane::take);
  connect(session_, &DeskSession::dimension_chosen, this, &PhotoPane::take);
  connect(session_, &DeskSession::unit_changed, this, &PhotoPane::take);
  connect(session_, &DeskSession::point_chosen, this, [this] {
    pending_.reset();
    take();
  });
  if (keys) add_keys(keys);
  show_chosen_photo();
  take();
}

void PhotoPane::add_keys(KeyBook* keys) {
  const auto add = [&](QWidget* owner, const char* id, const QString& text, const QString& tip,
                       const QKeySequence& key,
                       auto what) { keys->add(owner, tr("Photo"), id, text, tip, key, what); };
  // On the canvas: sliders need the arrow keys themselves.
  add(canvas_, "photo.accept", tr("Set the mark here"),
      tr("Sets the chosen point's mark at the place clicked, or a mark along a shape where the "
         "arrows brought it"),
      QKeySequence(Qt::Key_Return), [this] { accept_pending(); });
  add(canvas_, "photo.drop", tr("Not here"), tr("Forgets the place clicked"),
      QKeySequence(Qt::Key_Escape), [this] { drop_pending(); });
  add(canvas_, "photo.remove_shape_mark", tr("Remove the shape's mark"),
      tr("Takes away the mark of an edge or round that is under the cursor, or else the one set "
         "last"),
      QKeySequence(Qt::Key_Backspace), [this] { remove_shape_mark(); });
  add(this, "photo.side", tr("Other side"),
      tr("The next marks of the chosen cylinder are on the other side of its outline"),
      QKeySequence("C"), [this] { change_side(); });
  add(this, "photo.shapes", tr("Edges and rounds"),
      tr("Draws edges and rounds with their marks, as the lens bends them"), QKeySequence("E"),
      [this] { shapes_->toggle(); });
  const struct {
    const char* id;
    QString word;
    const char* key;
    double x, y;
  } ways[] = {{"left", tr("left"), "Left", -1, 0},
              {"right", tr("right"), "Right", 1, 0},
              {"up", tr("up"), "Up", 0, -1},
              {"down", tr("down"), "Down", 0, 1}};
  for (const auto& way : ways) {
    for (const double step : {kNudge_px, kLargeNudge_px}) {
      const bool large = step == kLargeNudge_px;
      const QString size = QLocale().toString(step, 'g', 2);
      const QString id = QString(large ? "photo.far_%1" : "photo.nudge_%1").arg(way.id);
      add(canvas_, qPrintable(id), tr("Nudge %1 by %2 px").arg(way.word, size),
          tr("Moves the place clicked, or the chosen mark, by %1 photo pixels").arg(size),
          QKeySequence(QString(large ? "Shift+%1" : "%1").arg(way.key)),
          [this, step, x = way.x, y = way.y] { nudge(step * x, step * y); });
    }
  }
  add(canvas_, "photo.remove_mark", tr("Remove mark"),
      tr("Takes the chosen point's mark out of this photo"), QKeySequence(Qt::Key_Delete),
      [this] { remove_mark(); });
  add(this, "photo.aside", tr("Set aside / take back"),
      tr("Leaves the chosen point's mark in this photo, or a shape's mark under the cursor, out of "
         "the survey, or uses it again"),
      QKeySequence("S"), [this] { toggle_aside(); });
  add(this, "photo.look_at_point", tr("Go to the point"),
      tr("Brings the chosen point into the middle"), QKeySequence("G"),
      [this] { look_at(session_->chosen_point()); });
  add(this, "photo.names", tr("Names"), tr("Writes the points' names beside their signs"),
      QKeySequence("N"), [this] { names_->toggle(); });
  add(this, "photo.places", tr("Expected places"),
      tr("Shows where points are expected that are not marked here"), QKeySequence("P"),
      [this] { places_->toggle(); });
  add(this, "photo.dimensions", tr("Other dimensions"),
      tr("Draws no dimensions, the chosen ones, or all"), QKeySequence("D"), [this] {
        dimensions_->setCurrentIndex((dimensions_->currentIndex() + 1) % dimensions_->count());
      });
  add(this, "photo.plain", tr("Photo as it is"),
      tr("Brightness, contrast and local contrast back to nothing"), QKeySequence("Shift+B"),
      [this] { set_tone({}); });
  add(this, "photo.brighter", tr("Brighter"), tr("Shows the photo brighter; the file stays"),
      QKeySequence("B"), [this] { tone_->brighter(); });
  add(this, "photo.local_more", tr("More local contrast"),
      tr("Lights up dark regions; the file stays"), QKeySequence("L"),
      [this] { tone_->more_local(); });
}

void PhotoPane::add_parts(QHBoxLayout* line) {
  const auto box = [&](const QString& name, const QString& text, const QString& tip,
                       bool TraceParts::*part) {
    auto* made = new QCheckBox(text, this);
    made->setObjectName(name);
    made->setToolTip(tip);
    made->setFocusPolicy(Qt::TabFocus);
    made->setChecked(parts_.*part);
    line->addWidget(made);
    connect(made, &QCheckBox::toggled, this, [this, part](bool on) {
      parts_.*part = on;
      take();
    });
    return made;
  };
  names_ = box("photo_names", tr("names"), tr("Writes the points' names beside their signs"),
               &TraceParts::names);
  places_ =
      box("photo_places", tr("expected"),
          tr("Shows where points are expected that are not marked here"), &TraceParts::places);
  shapes_ = box("photo_shapes", tr("shapes"),
                tr("Draws edges and rounds with their marks, as the lens bends them"),
                &TraceParts::shapes);
  dimensions_ = new QComboBox(this);
  dimensions_->setObjectName("photo_dimensions");
  dimensions_->setToolTip(tr("Which dimensions are drawn into the photo, as the lens bends them"));
  dimensions_->setFocusPolicy(Qt::TabFocus);
  dimensions_->addItem(tr("no dimensions"));
  dimensions_->addItem(tr("chosen dimensions"));
  dimensions_->addItem(tr("all dimensions"));
  dimensions_->setCurrentIndex(static_cast<int>(parts_.dimensions));
  line->addWidget(dimensions_);
  connect(dimensions_, &QComboBox::currentIndexChanged, this, [this](int which) {
    parts_.dimensions = static_cast<DimensionsDrawn>(which);
    take();
  });
}

void PhotoPane::set_parts(const TraceParts& parts) {
  parts_ = parts;
  const QSignalBlocker names(names_), places(places_), shapes(shapes_), dimensions(dimensions_);
  names_->setChecked(parts.names);
  places_->setChecked(parts.places);
  shapes_->setChecked(parts.shapes);
  dimensions_->setCurrentIndex(static_cast<int>(parts.dimensions));
  take();
}

const Tone& PhotoPane::tone() const { return tone_->tone(); }
void PhotoPane::set_tone(const Tone& tone) { tone_->set_tone(tone); }

void PhotoPane::show_chosen_photo() {
  const measure::Photo* photo = session_->dossier().find_photo(session_->chosen_photo());
  const std::string name = photo ? photo->name : std::string();
  const bool is_new = name != canvas_->photo();
  canvas_->set_empty_text(
      session_->dossier().photos.empty()
          ? tr("There are no photographs yet: drop some into the contact sheet.")
          : tr("No photo is chosen: open one from the contact sheet."));
  canvas_->show_photo(name, photo ? QSize(photo->size.width, photo->size.height) : QSize());
  if (!is_new) return;
  pending_.reset();
  take();
}

void PhotoPane::showEvent(QShowEvent* event) {
  QWidget::showEvent(event);
  if (is_old_) take();
}

void PhotoPane::take() {
  // While nobody looks it is only known to be old.
  is_old_ = !isVisible();
  if (is_old_) return;
  canvas_->set_marks_movable(session_->read_only_reason().isEmpty());
  canvas_->set_clicks_mean_places(marked_shape() != nullptr);
  PhotoTrace trace =
      canvas_->photo().empty() ? PhotoTrace{} : trace_of(*session_, canvas_->photo(), parts_);
  trace.pending = pending_;
  canvas_->set_trace(std::move(trace));
  write_caption();
  write_sentence();
}

void PhotoPane::write_caption() {
  const measure::Photo* photo = session_->dossier().find_photo(canvas_->photo());
  if (!photo) return caption_->clear();
  int marks = 0;
  for (const measure::Mark& mark : session_->dossier().marks) marks += mark.photo == photo->name;
  QStringList parts{"<b>" + words(photo->name).toHtmlEscaped() + "</b>",
                    tr("%1 × %2 px").arg(photo->size.width).arg(photo->size.height),
                    photo->camera.empty() ? tr("no camera") : words(photo->camera).toHtmlEscaped(),
                    tr("marks: %1").arg(marks)};
  if (!photo->epoch.empty()) parts.insert(1, words(photo->epoch).toHtmlEscaped());
  if (const measure::PhotoReport* report = session_->photo_report(photo->name)) {
    if (report->placed) {
      parts << (report->rms_px ? tr("oriented, rms %1 px").arg(pixel_text(*report->rms_px, 2))
                               : tr("oriented"));
    } else {
      parts << tr("not oriented: %1").arg(words(report->reason).toHtmlEscaped());
    }
  } else if (const auto& problem = session_->live()->problem) {
    parts << tr("not oriented: %1").arg(words(problem->sentence).toHtmlEscaped());
  }
  caption_->setText(parts.join(" · "));
  caption_->setToolTip(words(session_->file_of(*photo).string()));
}

void PhotoPane::write_sentence() {
  const std::string& point = session_->chosen_point();
  const std::string& photo = canvas_->photo();
  const measure::Mark* mark = photo.empty() ? nullptr : session_->mark_at(photo, point);
  const bool may_change = session_->read_only_reason().isEmpty();
  aside_->setEnabled(mark && may_change);
  remove_->setEnabled(mark && may_change);
  aside_->setText(mark && mark->set_aside ? tr("Take back") : tr("Set aside"));
  const measure::Shape* shape = marked_shape();
  const bool two_sided = shape && std::holds_alternative<measure::SeenCylinder>(shape->origin);
  side_button_->setVisible(two_sided);
  side_button_->setText(side_ == 1 ? tr("Marking side 1") : tr("Marking side 2"));
  QString sentence;
  if (shape && !photo.empty()) {
    const measure::ShapeMark* held = shape_mark_in_hand();
    aside_->setEnabled(held && may_change);
    remove_->setEnabled(held && may_change);
    aside_->setText(held && held->set_aside ? tr("Take back") : tr("Set aside"));
    sentence = may_change ? shape_sentence(*shape) : session_->read_only_reason();
  } else if (photo.empty()) {
    sentence.clear();
  } else if (pending_) {
    sentence = tr("%1 at x %2  y %3 px: Enter sets the mark, arrows nudge it by 0.1 px, Escape "
                  "forgets it.")
                   .arg(words(point), pixel_text(pending_->x(), 2), pixel_text(pending_->y(), 2));
  } else if (point.empty()) {
    sentence = tr("Choose a point, in its table or by its sign here; then click where it is.");
  } else if (!mark) {
    sentence = tr("%1 is not marked here: click where it is.").arg(words(point));
  } else if (mark->set_aside) {
    sentence =
        tr("The mark of %1 is set aside: kept, but not used in the survey.").arg(words(point));
  } else if (const QString doubt = doubt_sentence(*session_, photo, point); !doubt.isEmpty()) {
    sentence = doubt;
  } else {
    sentence = tr("%1, %2: x %3  y %4 px, σ %5 px.")
                   .arg(words(point), word_of(state_of(*session_, photo, point)),
                        pixel_text(mark->position_px.x(), 2), pixel_text(mark->position_px.y(), 2),
                        pixel_text(mark->sigma_px, 2));
  }
  sentence_->setText(sentence);
}

void PhotoPane::set_pending(std::optional<QPointF> at) {
  pending_ = at;
  PhotoTrace trace = canvas_->trace();
  trace.pending = at;
  canvas_->set_trace(std::move(trace));
  write_sentence();
}

const measure::Shape* PhotoPane::marked_shape() const {
  const measure::Shape* shape = session_->dossier().find_shape(session_->chosen_shape());
  return shape && measure::is_seen(shape->origin) ? shape : nullptr;
}

const measure::ShapeMark* PhotoPane::shape_mark_at(const std::string& shape,
                                                   const QPointF& at) const {
  const measure::ShapeMarkKey key{canvas_->photo(), shape, at.x(), at.y()};
  for (const measure::ShapeMark& mark : session_->dossier().shape_marks) {
    if (measure::key_of(mark) == key) return &mark;
  }
  return nullptr;
}

const measure::ShapeMark* PhotoPane::shape_mark_in_hand() const {
  if (!in_hand_ || in_hand_->photo != canvas_->photo()) return nullptr;
  return shape_mark_at(in_hand_->shape, {in_hand_->x_px, in_hand_->y_px});
}

const measure::ShapeMark* PhotoPane::shape_mark_at_cursor_or_in_hand() const {
  const TracedMark* traced = canvas_->shape_mark_at_cursor();
  const measure::ShapeMark* mark = traced ? shape_mark_at(traced->shape, traced->at) : nullptr;
  return mark ? mark : shape_mark_in_hand();
}

QString PhotoPane::shape_sentence(const measure::Shape& shape) const {
  if (pending_ && in_hand_) {
    return tr("The mark of %1, to go to x %2  y %3 px: Enter sets it there, arrows nudge it by 0.1 "
              "px, Escape leaves it where it was.")
        .arg(words(in_hand_->shape), pixel_text(pending_->x(), 2), pixel_text(pending_->y(), 2));
  }
  int here = 0;
  for (const measure::ShapeMark& mark : session_->dossier().shape_marks) {
    here += mark.shape == shape.name && mark.photo == canvas_->photo();
  }
  const QString way =
      std::holds_alternative<measure::SeenEdge>(shape.origin) ? tr("click anywhere along the edge")
      : std::holds_alternative<measure::SeenCircle>(shape.origin)
          ? tr("click anywhere along the rim")
      : side_ == 1 ? tr("click along one side of its outline (side 1); C changes to the other")
                   : tr("click along the other side of its outline (side 2); C changes back");
  return tr("%1, marks here: %2. To mark it, %3. Drag or arrows move a mark, Backspace removes "
            "the one under the cursor or set last, Escape ends it.")
      .arg(words(shape.name))
      .arg(here)
      .arg(way);
}

void PhotoPane::mark_shape(const QPointF& at) {
  const measure::Shape* shape = marked_shape();
  if (!shape || canvas_->photo().empty()) return;
  measure::ShapeMark mark;
  mark.photo = canvas_->photo();
  mark.shape = shape->name;
  mark.position_px = {at.x(), at.y()};
  mark.side = std::holds_alternative<measure::SeenCylinder>(shape->origin) ? side_ : 0;
  pending_.reset();
  session_->change_soon(measure::SetShapeMarks{{mark}}, this, [this, mark](bool done) {
    // What was nudged meanwhile stays in hand.
    if (done && !pending_) in_hand_ = measure::key_of(mark);
    take();
  });
}

void PhotoPane::move_shape_mark(const std::string& shape, const QPointF& from, const QPointF& to) {
  const measure::ShapeMark* old = shape_mark_at(shape, from);
  if (!old || from == to) {
    pending_.reset();
    return take();
  }
  measure::ShapeMark mark = *old;
  // As of a point's mark: moved by hand it is by hand and in use; what its person said of σ stays.
  if (mark.source != measure::MarkSource::kByHand) mark.sigma_px = measure::ShapeMark{}.sigma_px;
  mark.source = measure::MarkSource::kByHand;
  mark.set_aside = false;
  mark.position_px = {to.x(), to.y()};
  const std::optional<QPointF> accepted = pending_;
  // A mark is known by where it stands: to move it is to set it anew.
  measure::EditGroup move{
      {measure::RemoveShapeMarks{{measure::key_of(*old)}}, measure::SetShapeMarks{{mark}}}};
  const measure::ShapeMarkKey was = measure::key_of(*old);
  session_->change_soon(std::move(move), this, [this, was, mark, accepted](bool done) {
    // Another that was taken in hand meanwhile stays there.
    if (done && (!in_hand_ || *in_hand_ == was || !pending_)) in_hand_ = measure::key_of(mark);
    if (done && pending_ == accepted) pending_.reset();
    take();
  });
}

void PhotoPane::change_side() {
  side_ = 3 - side_;
  write_sentence();
}

void PhotoPane::remove_shape_mark() {
  session_->in_turn(this, [this] {
    const measure::ShapeMark* mark = shape_mark_at_cursor_or_in_hand();
    pending_.reset();
    if (mark) session_->change_soon(measure::RemoveShapeMarks{{measure::key_of(*mark)}});
  });
}

void PhotoPane::click_place(const QPointF& at) {
  if (marked_shape()) return mark_shape(at);
  if (session_->chosen_point().empty()) return write_sentence();
  set_pending(at);
}

void PhotoPane::click_point(const std::string& point) {
  session_->choose_point(point);
  session_->pick_point(point);
}

void PhotoPane::accept_pending() {
  session_->in_turn(this, [this] {
    if (pending_ && marked_shape() && in_hand_) {
      move_shape_mark(in_hand_->shape, {in_hand_->x_px, in_hand_->y_px}, *pending_);
    } else if (pending_ && !session_->chosen_point().empty()) {
      place_mark(session_->chosen_point(), *pending_);
    }
  });
}

void PhotoPane::drop_pending() {
  if (!pending_) session_->choose_shape("");
  set_pending(std::nullopt);
}

void PhotoPane::place_mark(const std::string& point, const QPointF& at) {
  measure::Mark mark;
  // A mark moved by hand is by hand, whatever it was; what its person said of σ stays.
  if (const measure::Mark* old = session_->mark_at(canvas_->photo(), point);
      old && old->source == measure::MarkSource::kByHand) {
    mark.sigma_px = old->sigma_px;
  }
  mark.photo = canvas_->photo();
  mark.point = point;
  mark.position_px = {at.x(), at.y()};
  mark.source = measure::MarkSource::kByHand;
  const std::optional<QPointF> accepted = pending_;
  session_->change_soon(measure::set_mark(mark), this, [this, point, accepted](bool done) {
    // The place stays pending until its mark is on the disk; refused() has said why it is not.
    if (done && pending_ == accepted) pending_.reset();
    if (done && !accepted) session_->choose_point(point);
    take();  // also where it was refused: a sign that was dragged goes back
  });
}

void PhotoPane::nudge(double right_px, double down_px) {
  // A mark along a shape is known by its place: the last one must stand where it is looked for.
  if (marked_shape() && session_->is_writing()) {
    session_->in_turn(this, [this, right_px, down_px] { nudge(right_px, down_px); });
    return;
  }
  const std::string& point = session_->chosen_point();
  if (canvas_->photo().empty() || (point.empty() && !marked_shape())) return;
  std::optional<QPointF> from = pending_;
  if (!from && marked_shape()) {
    const measure::ShapeMark* mark = shape_mark_at_cursor_or_in_hand();
    if (!mark || !session_->read_only_reason().isEmpty()) return;
    in_hand_ = measure::key_of(*mark);
    from = QPointF(mark->position_px.x(), mark->position_px.y());
  } else if (!from) {
    const measure::Mark* mark = session_->mark_at(canvas_->photo(), point);
    if (!mark) return;
    from = QPointF(mark->position_px.x(), mark->position_px.y());
  }
  // Right on the screen, however the photo is turned.
  const QTransform turned = QTransform().rotate(-canvas_->view().turn_deg);
  set_pending(*from + turned.map(QPointF(right_px, down_px)));
}

void PhotoPane::remove_mark() {
  if (marked_shape()) return remove_shape_mark();
  const std::string point = session_->chosen_point(), photo = canvas_->photo();
  session_->in_turn(this, [=, this] {
    if (photo.empty() || !session_->mark_at(photo, point)) return;
    session_->change_soon(measure::RemoveMarks{{{photo, point}}});
  });
}

void PhotoPane::toggle_aside() {
  if (marked_shape()) {
    session_->in_turn(this, [this] {
      const measure::ShapeMark* mark = shape_mark_at_cursor_or_in_hand();
      if (!mark) return;
      session_->change_soon(measure::SetShapeMarkAside{measure::key_of(*mark), !mark->set_aside});
    });
    return;
  }
  const std::string point = session_->chosen_point(), photo = canvas_->photo();
  session_->in_turn(this, [=, this] {
    const measure::Mark* mark = photo.empty() ? nullptr : session_->mark_at(photo, point);
    if (mark) session_->change_soon(measure::SetAside{{photo, point}, !mark->set_aside});
  });
}

void PhotoPane::look_at(const std::string& point) {
  const auto go = [&](const QPointF& at) {
    canvas_->centre_on(at, std::max(kLookZoom, canvas_->view().zoom));
  };
  for (const TracedMark& mark : canvas_->trace().marks) {
    if (mark.point == point) return go(mark.at);
  }
  for (const TracedPlace& place : canvas_->trace().places) {
    if (place.point == point) return go(place.at);
  }
}

}  // namespace desk
