#include "tools/cli/options.h"

namespace cli {

void add_calibration_commands(CLI::App& app, Chosen& chosen) {
  {
    Subcommand<BoardCommand> board(
        app, "board", "Write a checkerboard to print, at exact size",
        "scantling board --inner 11x8 --square 20mm --paper A4 --output board.pdf", chosen);
    board.text("--inner", board->inner, "inner corners, columns x rows")->required();
    board.text("--square", board->square, "side of a square, for example 25mm")->required();
    board.text("--paper", board->paper,
               "A4, A3, Letter … or a size such as 300x420mm (default A4)");
    board.text("--output", board->output, "PDF to write")->required();
  }
  {
    Subcommand<CalibrateCommand> calibrate(
        app, "calibrate", "Calibrate a camera from photographs of a checkerboard",
        "scantling calibrate board/*.jpg --inner 11x8 --square 20mm --name hauler "
        "--output hauler_camera.json",
        chosen);
    calibrate.texts("PHOTOS", calibrate->photos, "photographs of the board")->required();
    calibrate.text("--inner", calibrate->inner, "inner corners, columns x rows")->required();
    calibrate.text("--square", calibrate->square, "side of a square as measured, for example 25mm")
        ->required();
    calibrate.text("--output", calibrate->output, "camera file to write")->required();
    calibrate.text("--name", calibrate->name, "name of the camera (default: that of the file)");
    calibrate
        .text("--board-shape", calibrate->board_shape,
              "perfect: as drawn; prior: nearly as drawn (default); free: one distance known only")
        ->check(CLI::IsMember({"perfect", "prior", "free"}));
    calibrate.texts("--hold", calibrate->hold,
                    "parameters that may not vary: fx fy cx cy k1 k2 p1 p2 k3");
    calibrate.text("--residual-picture", calibrate->residual_picture,
                   "SVG of the residuals to write");
    calibrate.text("--coverage-picture", calibrate->coverage_picture,
                   "SVG of where corners were found to write");
    calibrate.flag("--json", calibrate->json, "print JSON for machines");
  }
}

}  // namespace cli
