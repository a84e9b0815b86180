#include "tools/desk/sheets/sheet_maker.h"

#include "measure/store/results_file.h"

namespace desk {
namespace {

QString q(const std::string& text) { return QString::fromStdString(text); }

// Adjusting is the shorter part where there are photographs to draw.
constexpr double kShareOfAdjusting = 0.25;

}  // namespace

SheetMaker::SheetMaker(DeskSession* session, QObject* parent) : QObject(parent), session_(session) {
  connect(session, &DeskSession::dossier_changed, this, [this] {
    ++changes_;
    survey_ = nullptr;
    if (!is_fresh()) return;
    fresh_ = false;
    Q_EMIT grew_stale();
  });
}

void SheetMaker::make(SheetWish wish) {
  if (writing_) return;
  background_.cancel();
  const std::uint64_t asked = ++asked_;
  set_busy(true);
  session_->in_turn(this, [this, asked, wish = std::move(wish)]() mutable {
    if (asked == asked_) begin(std::move(wish));
  });
}

void SheetMaker::begin(SheetWish wish) {
  struct Input {
    measure::Dossier dossier;
    Cameras cameras;
    std::map<std::string, std::filesystem::path> photo_files;
    measure::SheetFilesOptions options;
    std::vector<measure::ScaleRatio> replica_scales;
    std::shared_ptr<const measure::Survey> survey;
  };
  auto input = std::make_shared<Input>();
  input->dossier = session_->dossier();
  input->cameras = session_->cameras();
  for (const measure::Photo& photo : input->dossier.photos) {
    input->photo_files[photo.name] = session_->file_of(photo);
  }
  input->survey = survey_;
  measure::SheetFilesOptions& options = input->options;
  options.parts = std::move(wish.parts);
  options.paper = wish.paper;
  options.onto = std::move(wish.onto);
  options.draw = std::move(wish.draw);
  options.sheet.date = std::move(wish.date);
  options.sheet.measured_by = std::move(wish.measured_by);
  options.sheet.dossier = session_->folder().filename().string();
  options.sheet.only = std::move(wish.only);
  options.sheet.unit = wish.unit;
  options.sheet.tolerance_mm = wish.tolerance_mm;
  options.sheet.photo_file = [input = input.get()](const measure::Photo& photo) {
    return input->photo_files.at(photo.name);
  };
  input->replica_scales = std::move(wish.replica_scales);

  background_.run(
      [this, input, changes = changes_](const Background::Job& job) -> Background::Finish {
        const auto tell = [this, &job](double share, const std::string& what) {
          job.post([this, share, what] { Q_EMIT went_on(share, q(what)); });
        };
        const auto give_up = [this](const QString& sentence) -> Background::Finish {
          return [this, sentence] {
            set_busy(false);
            Q_EMIT failed(sentence);
          };
        };
        input->options.sheet.fingerprint = measure::fingerprint(input->dossier);  // as it is kept
        if (!input->replica_scales.empty()) input->dossier.replica_scales = input->replica_scales;
        if (!input->survey) {
          measure::SurveyOptions adjusting;
          adjusting.progress = [&](double share, const std::string& what) {
            tell(share * kShareOfAdjusting, what);
          };
          adjusting.cancelled = [&] { return job.cancelled(); };
          auto survey = measure::solve_survey(input->dossier, input->cameras, adjusting);
          if (!survey) return give_up(q(survey.error().sentence));
          input->survey = std::make_shared<const measure::Survey>(std::move(*survey));
        }
        input->options.sheet.progress = [&](double share, const std::string& what) {
          tell(kShareOfAdjusting + share * (1 - kShareOfAdjusting), what);
        };
        input->options.cancelled = [&] { return job.cancelled(); };
        auto made =
            measure::sheet_files(*input->survey, input->dossier, input->cameras, input->options);
        if (!made) return give_up(q(made.error().sentence));
        auto files = std::make_shared<const measure::SheetFiles>(std::move(*made));
        return [this, files, survey = input->survey, changes] {
          set_busy(false);
          made_ = files;
          fresh_ = changes == changes_;
          if (fresh_) survey_ = survey;
          Q_EMIT made_anew();
        };
      });
}

void SheetMaker::write(const std::filesystem::path& folder) {
  if (!made_ || writing_) return;
  ++asked_;
  writing_ = true;
  set_busy(true);
  background_.run([this, files = made_, folder](const Background::Job&) -> Background::Finish {
    auto paths = measure::write_sheet_files(folder, *files);
    const QString problem = paths ? QString() : q(paths.error().sentence);
    return [this, folder, problem] {
      writing_ = false;
      set_busy(false);
      if (problem.isEmpty()) {
        Q_EMIT written(q(folder.string()));
      } else {
        Q_EMIT failed(problem);
      }
    };
  });
}

void SheetMaker::cancel() {
  if (writing_ || !busy_) return;
  ++asked_;
  background_.cancel();
  set_busy(false);
}

void SheetMaker::set_busy(bool busy) {
  if (busy_ == busy) return;
  busy_ = busy;
  Q_EMIT busy_changed();
}

}  // namespace desk
