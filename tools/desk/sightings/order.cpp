#include "tools/desk/sightings/order.h"

#include <algorithm>
#include <cctype>
#include <map>
#include <tuple>

namespace desk {
namespace {

measure::Sight sight_in(const Places& places, const std::string& photo) {
  const auto at = places.in_photo.find(photo);
  return at == places.in_photo.end() ? measure::Sight::kUnknown : at->second.sight;
}

/// The number counted on, its leading zeros kept; nines grow a digit.
std::string counted_on(std::string digits) {
  for (auto digit = digits.rbegin(); digit != digits.rend(); ++digit) {
    if (*digit != '9') {
      ++*digit;
      return digits;
    }
    *digit = '0';
  }
  return "1" + digits;
}

bool is_digit(char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; }

}  // namespace

bool passes(SightingFilter filter, const DeskSession& session, const Places& places,
            const std::string& photo) {
  const measure::Mark* mark = session.mark_at(photo, places.point);
  switch (filter) {
    case SightingFilter::kAll:
      return true;
    case SightingFilter::kCouldBeSeen: {
      const measure::Sight sight = sight_in(places, photo);
      return mark || (sight != measure::Sight::kHidden && sight != measure::Sight::kOutside);
    }
    case SightingFilter::kMarked:
      return mark != nullptr;
    case SightingFilter::kDoubted:
      return mark && session.is_doubted(photo, places.point);
  }
  return true;
}

std::vector<std::string> view_order(const DeskSession& session, const Places& places) {
  std::vector<std::tuple<int, std::size_t, std::string>> ranked;
  for (const measure::Photo& photo : session.dossier().photos) {
    const int rank =
        session.mark_at(photo.name, places.point) ? -1 : rank_of(sight_in(places, photo.name));
    ranked.emplace_back(rank, ranked.size(), photo.name);
  }
  std::sort(ranked.begin(), ranked.end());
  std::vector<std::string> order;
  order.reserve(ranked.size());
  for (auto& [rank, number, photo] : ranked) order.push_back(std::move(photo));
  return order;
}

std::string next_name(const measure::Dossier& dossier, const std::string& name) {
  std::string next = name.empty() ? "P0" : name;
  auto last = std::find_if(next.rbegin(), next.rend(), is_digit);
  if (last == next.rend()) {
    next += " 1";
    last = next.rbegin();
  }
  const auto end = static_cast<std::size_t>(next.rend() - last);
  std::size_t begin = end;
  while (begin > 0 && is_digit(next[begin - 1])) --begin;
  std::string digits = next.substr(begin, end - begin);
  const std::string before = next.substr(0, begin), behind = next.substr(end);
  do {
    digits = counted_on(digits);
    next = before + digits + behind;
  } while (dossier.find_point(next));
  return next;
}

std::string neighbour(const measure::Dossier& dossier, const std::string& point, int step) {
  const auto& points = dossier.points;
  if (points.empty()) return {};
  const auto at = std::find_if(points.begin(), points.end(),
                               [&](const measure::Point& one) { return one.name == point; });
  if (at == points.end()) return step > 0 ? points.front().name : points.back().name;
  const auto count = static_cast<std::ptrdiff_t>(points.size());
  const auto next = ((at - points.begin()) + step % count + count) % count;
  return points[static_cast<std::size_t>(next)].name;
}

std::string next_lacking(const measure::Dossier& dossier, const std::string& point) {
  std::map<std::string, int> marks;
  for (const measure::Mark& mark : dossier.marks) {
    if (!mark.set_aside) ++marks[mark.point];
  }
  std::string best, at = point;
  int fewest = 0;
  for (std::size_t tried = 0; tried < dossier.points.size(); ++tried) {
    at = neighbour(dossier, at, 1);
    if (at == point) continue;
    const int count = marks.contains(at) ? marks[at] : 0;
    if (count < 2) return at;
    if (best.empty() || count < fewest) {
      best = at;
      fewest = count;
    }
  }
  return best;
}

}  // namespace desk
