// Work away from the thread of the widgets, its answer back on it.
#pragma once

#include <QObject>
#include <atomic>
#include <condition_variable>
#include <functional>
#include <memory>
#include <mutex>
#include <thread>

namespace desk {

/// One job at a time on a thread of its own. A newer job takes the place of an older one: that is
/// told to stop, and what it answers is dropped.
class Background : public QObject {
  Q_OBJECT
 public:
  /// What a job sees of the world outside.
  class Job {
   public:
    [[nodiscard]] bool cancelled() const;
    /// Runs `what` on the thread of the widgets, unless the job is cancelled by then. Safe from any
    /// thread.
    void post(std::function<void()> what) const;

   private:
    friend class Background;
    struct State;
    explicit Job(std::shared_ptr<State> state) : state_(std::move(state)) {}
    std::shared_ptr<State> state_;
  };
  /// Runs on the thread of the widgets once the job is done.
  using Finish = std::function<void()>;
  using Work = std::function<Finish(const Job& job)>;

  explicit Background(QObject* parent = nullptr);
  /// Tells the job to stop and waits until it has.
  ~Background() override;

  void run(Work work);
  void cancel();
  [[nodiscard]] bool busy() const { return busy_ != nullptr; }

 private:
  void loop();

  std::shared_ptr<Job::State> busy_;  // of the newest job; of the widgets' thread
  std::mutex mutex_;
  std::condition_variable woken_;
  std::function<void()> next_;
  bool stop_ = false;
  std::thread thread_;
};

}  // namespace desk
