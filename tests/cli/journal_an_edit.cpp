// journal_an_edit DIR PHOTO POINT: marks a new point as an open desk does, and ends before anything
// is saved, as at a crash: the edit is in the journal alone.
#include <cstdio>

#include <unistd.h>

#include "measure/edit/edit.h"
#include "measure/store/open_dossier.h"

int main(int argument_count, char** arguments) {
  if (argument_count != 4) {
    std::fprintf(stderr, "usage: journal_an_edit DIR PHOTO POINT\n");
    return 2;
  }
  auto open = measure::OpenDossier::open_for_change(arguments[1]);
  if (!open) {
    std::fprintf(stderr, "%s\n", open.error().sentence.c_str());
    return 1;
  }
  measure::Mark mark;
  mark.photo = arguments[2];
  mark.point = arguments[3];
  mark.position_px = {5.0, 7.0};
  mark.sigma_px = 0.5;
  if (const auto done = open->change(
          measure::EditGroup{{measure::AddPoint{{mark.point, ""}}, measure::set_mark(mark)}});
      !done) {
    std::fprintf(stderr, "%s\n", done.error().sentence.c_str());
    return 1;
  }
  // No destructor may save or unlock in order.
  ::_exit(0);
}
