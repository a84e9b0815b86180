#include "tools/desk/sightings/refine_runner.h"

#include <QMetaObject>
#include <QThread>
#include <algorithm>
#include <exception>
#include <memory>

namespace desk {
namespace {

/// A library's exception ends where the refinement is called: nothing is thrown through Qt.
Refined guarded(const std::function<Refined()>& work) {
  try {
    return work();
  } catch (const std::exception& cause) {
    return calib::Unexpected(
        RefineRefusal{RefineRunner::tr("the refinement failed"), QString::fromUtf8(cause.what())});
  }
}

}  // namespace

RefineRunner::RefineRunner(QObject* parent) : QObject(parent) {
  // One processor stays free for the widgets and the adjustment.
  pool_.setMaxThreadCount(std::max(1, QThread::idealThreadCount() - 1));
}

RefineRunner::~RefineRunner() {
  pool_.clear();
  pool_.waitForDone();
}

void RefineRunner::ask(std::function<Refined()> work, std::function<void(Refined)> done) {
  ++under_way_;
  pool_.start([this, work = std::move(work), done = std::move(done), era = era_] {
    auto refined = std::make_shared<Refined>(guarded(work));
    QMetaObject::invokeMethod(
        this,
        [this, refined, done, era] {
          if (era != era_) return;
          --under_way_;
          done(std::move(*refined));
        },
        Qt::QueuedConnection);
  });
}

void RefineRunner::forget_all() {
  pool_.clear();
  ++era_;
  under_way_ = 0;
}

}  // namespace desk
