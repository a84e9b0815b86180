#include "tools/desk/forms/proposed_name.h"

#include <QCoreApplication>
#include <algorithm>

namespace desk {
namespace {

constexpr int kLongest_bytes = 160;

QString q(const std::string& text) { return QString::fromStdString(text); }
struct Words {
  Q_DECLARE_TR_FUNCTIONS(desk::Names)
};

/// "bar A left", "bar A right" → "bar A left", "right": without the words both begin with.
QString without_shared_words(const QString& first, const QString& second) {
  int shared = 0;
  for (int i = 0; i < std::min(first.size(), second.size()) && first[i] == second[i]; ++i) {
    if (first[i] == ' ') shared = i + 1;
  }
  return shared < second.size() ? second.mid(shared) : second;
}

QString pair(const std::string& a, const std::string& b) {
  return Words::tr("%1 to %2").arg(q(a), without_shared_words(q(a), q(b)));
}

struct Proposal {
  QString operator()(const measure::Distance& d) const { return pair(d.from, d.to); }
  QString operator()(const measure::DistanceAlong& d) const {
    return Words::tr("%1 along %2")
        .arg(pair(d.from, d.to), d.axis_to.empty() ? q(d.axis_from) : pair(d.axis_from, d.axis_to));
  }
  QString operator()(const measure::Angle& d) const {
    return Words::tr("angle at %1").arg(q(d.vertex));
  }
  QString operator()(const measure::OffsetFromLine& d) const {
    return Words::tr("%1 off the line %2")
        .arg(q(d.point), d.line_to.empty() ? q(d.line_from) : pair(d.line_from, d.line_to));
  }
  QString operator()(const measure::AngleBetween& d) const {
    return Words::tr("angle %1").arg(pair(d.first, d.second));
  }
  QString operator()(const measure::Gap& d) const {
    return Words::tr("gap %1").arg(pair(d.first, d.second));
  }
  QString operator()(const measure::Radius& d) const {
    return Words::tr("%1 radius").arg(q(d.shape));
  }
  QString operator()(const measure::Diameter& d) const {
    return Words::tr("%1 diameter").arg(q(d.shape));
  }
  QString operator()(const measure::ConeAngle& d) const {
    return Words::tr("%1 angle").arg(q(d.shape));
  }
  QString operator()(const measure::ChainLength& d) const { return along(d.points); }
  QString operator()(const measure::ArcLength& d) const {
    return Words::tr("%1 along %2").arg(pair(d.from, d.to), q(d.circle));
  }
  QString operator()(const measure::RowPitch& d) const {
    return Words::tr("pitch %1").arg(along(d.points));
  }
  QString operator()(const measure::RowDeparture& d) const {
    return Words::tr("evenness %1").arg(along(d.points));
  }
  QString operator()(const measure::OutlineArea& d) const {
    return Words::tr("area at %1").arg(d.points.empty() ? QString() : q(d.points.front()));
  }
  QString operator()(const measure::Coordinate& d) const {
    return QStringLiteral("%1 %2").arg(q(d.item), q(d.axis));
  }
  QString operator()(const measure::MirrorDeparture& d) const {
    return Words::tr("symmetry %1").arg(pair(d.first, d.second));
  }
  static QString along(const std::vector<std::string>& points) {
    return points.size() < 2 ? QString() : pair(points.front(), points.back());
  }
  QString operator()(const measure::OffsetFromPlane& d) const {
    return Words::tr("%1 off the plane at %2")
        .arg(q(d.point), d.plane.empty() ? QString() : q(d.plane.front()));
  }
};

template <typename Items>
bool is_taken(const Items& items, const QString& name) {
  return std::any_of(items.begin(), items.end(),
                     [&](const auto& item) { return q(item.name) == name; });
}

template <typename Items>
QString numbered(const Items& items, const QString& name) {
  if (!is_taken(items, name)) return name;
  for (int n = 2;; ++n) {
    const QString next = QStringLiteral("%1 %2").arg(name).arg(n);
    if (!is_taken(items, next)) return next;
  }
}

}  // namespace

QString proposed_dimension_name(const measure::Dossier& dossier,
                                const measure::DimensionKind& kind) {
  QString name = std::visit(Proposal{}, kind);
  if (name.toUtf8().size() > kLongest_bytes) {
    name = Words::tr("dimension %1").arg(dossier.dimensions.size() + 1);
  }
  return numbered(dossier.dimensions, name);
}

QString proposed_bar_name(const measure::Dossier& dossier) {
  for (std::size_t n = dossier.bars.size() + 1;; ++n) {
    const QString name = Words::tr("bar %1").arg(n);
    if (!is_taken(dossier.bars, name)) return name;
  }
}

}  // namespace desk
