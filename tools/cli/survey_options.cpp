#include "tools/cli/options.h"

namespace cli {

void add_survey_commands(CLI::App& app, Chosen& chosen) {
  {
    Subcommand<AdjustCommand> adjust(app, "adjust", "Solve the survey and judge it",
                                     "scantling adjust hauler", chosen);
    adjust.folder();
    adjust
        .text("--camera", adjust->camera_use,
              "treat all cameras as fixed, prior or self from now on (see \"scantling camera use "
              "--help\")")
        ->check(CLI::IsMember({"fixed", "prior", "self"}));
    adjust.flag("--set-aside-doubted", adjust->set_aside_doubted,
                "set the doubted marks aside in the dossier: kept, but unused");
    adjust.flag("--json", adjust->json, "print JSON for machines");
  }
  {
    Subcommand<DimensionsCommand> dimensions(
        app, "dimensions", "Solve the survey and print the dimensions, each with its uncertainty",
        "scantling dimensions hauler --units in-fraction", chosen);
    dimensions.folder();
    dimensions.text("--units", dimensions->units, "mm (default), cm, m, in, in-fraction or ft-in")
        ->check(CLI::IsMember({"mm", "cm", "m", "in", "in-fraction", "ft-in"}));
    dimensions
        .number("--fraction", dimensions->fraction,
                "smallest fraction of an inch: 64 (default) for 1/64")
        ->check(CLI::IsMember({2, 4, 8, 16, 32, 64, 128}));
    dimensions
        .number("--monte-carlo", dimensions->monte_carlo, "compare with so many simulated surveys")
        ->check(CLI::Range(2, 1'000'000));
    dimensions.number("--seed", dimensions->seed, "of the simulated surveys (default 1)");
    dimensions.flag("--at-20C", dimensions->at_20C, "at 20 degrees Celsius instead of as found");
    dimensions.flag("--json", dimensions->json, "print JSON for machines");
  }
  const auto units = [](auto& command) {
    command.text("--units", command->units, "mm (default), cm, m, in, in-fraction or ft-in")
        ->check(CLI::IsMember({"mm", "cm", "m", "in", "in-fraction", "ft-in"}));
    command.flag("--json", command->json, "print JSON for machines");
  };
  {
    Subcommand<ShapesCommand> shapes(
        app, "shapes", "Solve the survey and print the shapes: sizes, and whether they are true",
        "scantling shapes hauler", chosen);
    shapes.folder();
    units(shapes);
  }
  {
    Subcommand<CoordinatesCommand> coordinates(
        app, "coordinates", "Solve the survey and print the points in the model axes",
        "scantling coordinates hauler --scale 1:72", chosen);
    coordinates.folder();
    coordinates.text("--scale", coordinates->scale,
                     "original (default), full, or a replica's ratio like 1:72");
    units(coordinates);
  }
  {
    Subcommand<ExplainCommand> explain(
        app, "explain", "Say how one dimension is known: by which marks, photos, bars and cameras",
        "scantling explain hauler \"wheelbase, left\"", chosen);
    explain.folder();
    explain.text("NAME", explain->name, "name of the dimension")->required();
    explain.flag("--all", explain->all, "name also what carries less than 1 %");
    units(explain);
  }
  {
    Subcommand<StockCommand> stock(
        app, "stock",
        "Say which size of sheet, strip, rod or tube a dimension is, with probabilities",
        "scantling stock hauler \"Ø pipe, left fender\" --as rod", chosen);
    stock.folder();
    stock.text("NAME", stock->name, "name of the dimension")->required();
    stock.text("--as", stock->kind, "sheet, strip, rod or tube")
        ->required()
        ->check(CLI::IsMember({"sheet", "strip", "rod", "tube"}));
    stock.text("--table", stock->table,
               "your own table of sizes (JSON); without it common metric and inch sizes");
    stock.text("--material", stock->material, "only sizes of this material");
    stock.flag("--json", stock->json, "print JSON for machines");
  }
  {
    Subcommand<SheetCommand> sheet(
        app, "sheet", "Write what leaves for the workshop: dimension sheet, templates, data",
        "scantling sheet hauler --output sheets --date 2025-05-17 "
        "--by \"M. Keel\"",
        chosen);
    sheet.folder();
    sheet.text("--output", sheet->output, "folder for the sheet's files; made if need be")
        ->required();
    sheet.texts("--replica-scale", sheet->replica_scales,
                "scale of a replica, as often as needed, instead of the dossier's: 1:72");
    sheet.text("--paper", sheet->paper, "A4 (default), A3, letter … or a size such as 300x420mm");
    sheet.texts("--only", sheet->only, "names of the dimensions to show (default: all)");
    sheet.texts(
        "--parts", sheet->parts,
        "dimensions (PDF and page), templates (PDF, SVG, DXF) and data (CSV, JSON, PLY, OBJ); "
        "default: all");
    sheet.texts("--draw", sheet->draw,
                "names of the points and shapes of templates and data (default: all)");
    sheet.text(
        "--onto", sheet->onto,
        "a plane that the templates look onto (default: from above, the side and the front)");
    sheet.text("--date", sheet->date, "day that the sheet bears: 2025-05-17");
    sheet.text("--by", sheet->by, "who measured");
    sheet.text("--units", sheet->unit, "mm (default), cm, m, in, in-fraction or ft-in")
        ->check(CLI::IsMember({"mm", "cm", "m", "in", "in-fraction", "ft-in"}));
    sheet
        .number("--fraction", sheet->fraction,
                "smallest fraction of an inch: 64 (default) for 1/64")
        ->check(CLI::IsMember({2, 4, 8, 16, 32, 64, 128}));
    sheet.text("--tolerance", sheet->tolerance,
               "largest U that will do, of lengths without one of their own (default 0.1mm)");
    sheet.flag("--json", sheet->json, "print JSON for machines: the files written");
  }
  {
    Subcommand<DeskCommand> desk(app, "desk",
                                 "Mark points in photographs and watch the dimensions, in a window",
                                 "scantling desk hauler", chosen);
    desk.text("DIR", desk->folder, "folder of the dossier; without it the desk asks");
  }
  Subcommand<VerifyCommand> verify(
      app, "verify",
      "Check that all photos and cameras are there and unchanged, and results current",
      "scantling verify hauler", chosen);
  verify.folder();
}

}  // namespace cli
