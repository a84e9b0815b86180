#include "tools/desk/session/background.h"

#include <QMetaObject>

#include "tools/desk/session/priority.h"

namespace desk {

struct Background::Job::State {
  std::atomic<bool> cancelled{false};
  QObject* owner = nullptr;  // lives longer than the thread
};

bool Background::Job::cancelled() const { return state_->cancelled; }

void Background::Job::post(std::function<void()> what) const {
  QMetaObject::invokeMethod(
      state_->owner,
      [state = state_, what = std::move(what)] {
        if (!state->cancelled) what();
      },
      Qt::QueuedConnection);
}

Background::Background(QObject* parent) : QObject(parent), thread_([this] { loop(); }) {}

Background::~Background() {
  cancel();
  {
    const std::lock_guard guard(mutex_);
    stop_ = true;
  }
  woken_.notify_all();
  thread_.join();
}

void Background::run(Work work) {
  cancel();
  auto state = std::make_shared<Job::State>();
  state->owner = this;
  busy_ = state;
  {
    const std::lock_guard guard(mutex_);
    next_ = [this, state, work = std::move(work)] {
      const Job job(state);
      if (job.cancelled()) return;
      Finish finish = work(job);
      job.post([this, state, finish = std::move(finish)] {
        if (busy_ == state) busy_ = nullptr;
        if (finish) finish();
      });
    };
  }
  woken_.notify_all();
}

void Background::cancel() {
  if (busy_) busy_->cancelled = true;
  busy_ = nullptr;
}

void Background::loop() {
  go_behind_the_widgets();
  while (true) {
    std::function<void()> job;
    {
      std::unique_lock lock(mutex_);
      woken_.wait(lock, [&] { return stop_ || next_; });
      if (stop_) return;
      std::swap(job, next_);
    }
    job();
  }
}

}  // namespace desk
