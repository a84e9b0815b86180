#include <csignal>
#include <exception>
#include <iostream>
#include <new>

#include <glog/logging.h>

#include "calib/adjust/blas_threads.h"
#include "tools/cli/command_line.h"
#include "tools/cli/terminal.h"

int main(int argument_count, char** arguments) {
  // The solver's own log of a step it had to retry puzzles a person, and says nothing that we do
  // not.
  FLAGS_minloglevel = google::GLOG_FATAL;
  // The same input gives the same bytes, on any number of cores.
  calib::adjust::use_one_blas_thread();
  // A limit on the size of files is an error of the write, with its sentence, and no death in it.
  std::signal(SIGXFSZ, SIG_IGN);
  try {
    const int code = cli::run_command_line(argument_count, arguments);
    std::cout.flush();
    if (!std::cout && code == 0) {
      cli::complain("The output could not be written to its end: is the disk full?");
      return 2;
    }
    return code;
  } catch (const std::bad_alloc&) {
    cli::complain("There is not enough memory for this; what was saved before is untouched.");
  } catch (const std::exception& cause) {
    cli::complain(std::string("Something failed that should not (") + cause.what() +
                  "): please report it; what was saved before is untouched.");
  } catch (...) {
    cli::complain(
        "Something failed that should not: please report it; what was saved before is untouched.");
  }
  return 1;
}
