#include "tools/desk/window/status_line.h"

#include <QCoreApplication>
#include <QLocale>
#include <algorithm>

namespace desk {
namespace {

struct Words {
  Q_DECLARE_TR_FUNCTIONS(desk::StatusLine)
};

}  // namespace

QString survey_sentence(const DeskSession& session) {
  const auto live = session.live();
  QString behind = session.live_is_behind() ? Words::tr(" · adjusting …") : QString();
  if (!live->survey) {
    return (live->problem ? QString::fromStdString(live->problem->sentence)
                          : Words::tr("Not adjusted yet")) +
           behind;
  }
  const measure::SurveyReport& report = live->survey->report();
  const auto placed = std::count_if(report.points.begin(), report.points.end(),
                                    [](const auto& point) { return point.placed; });
  const auto oriented = std::count_if(report.photos.begin(), report.photos.end(),
                                      [](const auto& photo) { return photo.placed; });
  QString sentence = Words::tr("%1 of %2 points placed, %3 of %4 photos oriented · rms %5 px")
                         .arg(placed)
                         .arg(report.points.size())
                         .arg(oriented)
                         .arg(report.photos.size())
                         .arg(QLocale().toString(report.rms_px, 'f', 2));
  std::size_t doubted = 0;
  for (const measure::Mark& mark : session.dossier().marks) {
    if (!mark.set_aside && session.is_doubted(mark.photo, mark.point)) ++doubted;
  }
  if (doubted > 0) sentence += Words::tr(" · doubted marks: %1").arg(doubted);
  if (report.unit == measure::LengthUnit::kFree) {
    sentence += Words::tr(" · no scale bar: ratios and angles only");
  }
  return sentence + behind;
}

}  // namespace desk
