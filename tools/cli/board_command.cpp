#include "calib/board/board_pdf.h"
#include "tools/cli/commands.h"
#include "tools/cli/typed.h"

namespace cli {

Outcome run(const BoardCommand& command) {
  const auto board = typed_board(command.inner, command.square);
  if (!board) {
    return calib::Unexpected(board.error());
  }
  const auto paper = calib::paper_named(command.paper);
  if (!paper) {
    return calib::Unexpected(paper.error());
  }
  const auto sheet = calib::write_board_pdf(command.output, *board, *paper);
  if (!sheet) {
    return calib::Unexpected(sheet.error());
  }
  say("Wrote " + command.output +
      ": print it at 100 %, not fitted to the page, and measure its control line of 100 mm.");
  return calib::Done{};
}

}  // namespace cli
