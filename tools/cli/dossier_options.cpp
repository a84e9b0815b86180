#include "tools/cli/options.h"

namespace cli {
namespace {

CLI::App& group(CLI::App& app, const std::string& name, const std::string& does) {
  CLI::App& added = *app.add_subcommand(name, does);
  added.require_subcommand(1);
  return added;
}

template <typename Command>
void add_settings(Subcommand<Command>& command) {
  DossierSettings& settings = command->settings;
  command.text("DIR", settings.folder, "folder of the dossier")->required();
  command.text("--name", settings.name, "name of the original");
  command.text("--model-scale", settings.model_scale,
               "scale of the original to what it stands for: 1:48");
  command.text("--model-scale-u", settings.model_scale_u, "standard uncertainty of the 48 in 1:48");
  command.texts("--replica-scale", settings.replica_scales,
                "scale of a replica, as often as needed: 1:72");
  command.text("--temperature", settings.temperature,
               "of the original on the day, degrees Celsius");
  command.text("--temperature-u", settings.temperature_u, "its standard uncertainty");
  command.text("--expansion", settings.expansion, "of the original's material, per kelvin: 70e-6");
  command.text("--expansion-u", settings.expansion_u, "its standard uncertainty");
}

void add_dossier_group(CLI::App& app, Chosen& chosen) {
  CLI::App& dossier = group(app, "dossier", "Make, describe and show a dossier");
  {
    Subcommand<DossierNew> command(dossier, "new", "Make a dossier",
                                   "scantling dossier new hauler --name \"Ore hauler\" "
                                   "--model-scale 1:48 --replica-scale 1:72",
                                   chosen);
    add_settings(command);
  }
  {
    Subcommand<DossierSet> command(dossier, "set",
                                   "Change what is known of the original as a whole",
                                   "scantling dossier set hauler --temperature 21.5 "
                                   "--temperature-u 0.5 --expansion 70e-6 --expansion-u 10e-6",
                                   chosen);
    add_settings(command);
  }
  Subcommand<DossierShow> show(dossier, "show", "Show what a dossier holds",
                               "scantling dossier show hauler", chosen);
  show.folder();
}

void add_camera_group(CLI::App& app, Chosen& chosen) {
  CLI::App& camera = group(app, "camera", "Cameras of a dossier");
  {
    Subcommand<CameraList> command(camera, "list", "List the cameras",
                                   "scantling camera list hauler", chosen);
    command.folder();
  }
  {
    Subcommand<CameraSetUse> command(camera, "use", "Say how the adjustment treats a camera",
                                     "scantling camera use hauler hauler self", chosen);
    command.folder();
    command.text("CAMERA", command->camera, "name of the camera")->required();
    command
        .text("USE", command->use,
              "fixed: exactly as calibrated; prior: as calibrated, with its uncertainty; self: "
              "calibrated anew")
        ->required()
        ->check(CLI::IsMember({"fixed", "prior", "self"}));
  }
  Subcommand<CameraReplace> replace(
      camera, "replace", "Take another calibration of the same camera",
      "scantling camera replace hauler hauler hauler_camera.json", chosen);
  replace.folder();
  replace.text("CAMERA", replace->camera, "name of the camera in the dossier")->required();
  replace.text("FILE", replace->file, "camera file")->required();
}

void add_photo_group(CLI::App& app, Chosen& chosen) {
  CLI::App& photo = group(app, "photo", "Photos of a dossier");
  {
    Subcommand<PhotoAdd> command(
        photo, "add", "Add photos; the files are never altered",
        "scantling photo add hauler photos/*.jpg --camera hauler_camera.json", chosen);
    command.folder();
    command.texts("PHOTOS", command->photos, "photographs of the original")->required();
    command.text("--camera", command->camera, "camera file, or name of a camera of the dossier")
        ->required();
    command.text("--name", command->name, "another name than the file's, for one photo");
    command.text("--epoch", command->epoch,
                 "state of the original that the photos show (default: as visited)");
    command.flag("--copy", command->copy, "copy the photos into the dossier");
  }
  {
    Subcommand<PhotoList> command(photo, "list", "List the photos", "scantling photo list hauler",
                                  chosen);
    command.folder();
  }
  Subcommand<PhotoRemove> remove(photo, "remove", "Take photos and their marks out; the files stay",
                                 "scantling photo remove hauler hauler_03.jpg", chosen);
  remove.folder();
  remove.texts("PHOTOS", remove->photos, "names of photos")->required();
}

void add_mark_group(CLI::App& app, Chosen& chosen) {
  CLI::App& mark = group(app, "mark", "Marks: where points are seen in photos");
  {
    Subcommand<MarkImport> command(
        mark, "import", "Import a table of marks: photo,point,x,y[,sigma]; all of it or nothing",
        "scantling mark import hauler marks.csv --pixel-origin centre", chosen);
    command.folder();
    command.text("TABLE", command->table, "CSV file in UTF-8")->required();
    command
        .text("--pixel-origin", command->pixel_origin,
              "what lies at (0, 0): the centre of the top left pixel, or its outer corner")
        ->check(CLI::IsMember({"centre", "corner"}));
    command
        .text("--as", command->turned_photos,
              "for photos that EXIF turns: measured as stored (not turned) or as shown (turned)")
        ->check(CLI::IsMember({"stored", "shown"}));
    command.text("--sigma", command->sigma, "pixels, where the table gives none (default 0.5)");
  }
  {
    Subcommand<MarkSet> command(
        mark, "set", "Set one mark",
        "scantling mark set hauler hauler_03.jpg \"fuel cap\" --at 1204.5 733.0", chosen);
    command.folder();
    command.text("PHOTO", command->photo, "name of the photo")->required();
    command.text("POINT", command->point, "name of the point")->required();
    command
        .texts("--at", command->at, 2, "x and y in pixels; the centre of the top left pixel is 0 0")
        ->required();
    command.text("--sigma", command->sigma,
                 "standard uncertainty of a coordinate in pixels (default 0.5)");
  }
  {
    Subcommand<MarkList> command(mark, "list", "List marks",
                                 "scantling mark list hauler --photo hauler_03.jpg", chosen);
    command.folder();
    command.text("--photo", command->photo, "of this photo only");
    command.text("--point", command->point, "of this point only");
  }
  {
    Subcommand<MarkRemove> command(mark, "remove", "Remove one mark",
                                   "scantling mark remove hauler hauler_03.jpg \"fuel cap\"",
                                   chosen);
    command.folder();
    command.text("PHOTO", command->photo, "name of the photo")->required();
    command.text("POINT", command->point, "name of the point")->required();
  }
  {
    Subcommand<MarkSetAside> command(mark, "set-aside", "Keep a mark, but do not use it",
                                     "scantling mark set-aside hauler hauler_03.jpg \"fuel cap\"",
                                     chosen);
    command.folder();
    command.text("PHOTO", command->photo, "name of the photo")->required();
    command.text("POINT", command->point, "name of the point")->required();
    command.flag("--take-up", command->take_up, "use it again");
  }
  Subcommand<MarkBoard> board(mark, "board",
                              "Mark the inner corners of a checkerboard that the photos show",
                              "scantling mark board boards --inner 11x8", chosen);
  board.folder();
  board.text("--inner", board->inner, "inner corners, columns x rows")->required();
  board.texts("--photos", board->photos, "in these photos only (default: all)");
  Subcommand<MarkRefine> refine(
      mark, "refine", "Measure marks in the images, from a click to a part of a pixel",
      "scantling mark refine hauler --points T03 T10 T18\n"
      "  scantling mark refine hauler --points \"cab roof corner, front left\" --as corner\n"
      "  scantling mark refine hauler --points T03 --as match --pattern hauler_03.jpg",
      chosen);
  refine.folder();
  refine.texts("--points", refine->points, "these points only (default: all)");
  refine.texts("--photos", refine->photos, "in these photos only (default: all)");
  refine
      .text(
          "--as", refine->as,
          "what the marks sit on. cross: quartered targets (default); corner: of two edges; round: "
          "the centre of a round thing; crossing: of two edges or lines, if only when prolonged; "
          "match: the same place as in the pattern view; auto: whichever can be trusted")
      ->check(CLI::IsMember({"cross", "corner", "round", "crossing", "match", "auto"}));
  refine.text("--pattern", refine->pattern,
              "pattern view: the photo whose marks a match finds again in the others");
  refine.text(
      "--radius", refine->radius,
      "how far off a mark may be, pixels (default 6; for auto what the mark's own sigma allows)");
}

void add_point_group(CLI::App& app, Chosen& chosen) {
  CLI::App& point = group(app, "point", "Points and their kinds");
  {
    Subcommand<PointKindCommand> command(
        point, "kind", "Say how well a kind of point is defined on the original",
        "scantling point kind hauler \"moulded edge\" --u 0.05mm", chosen);
    command.folder();
    command.text("NAME", command->kind, "name of the kind")->required();
    command.text("--u", command->u, "standard uncertainty of a coordinate, for example 0.05mm")
        ->required();
  }
  {
    Subcommand<PointSet> command(
        point, "set", "Give points a kind",
        "scantling point set hauler \"rib 1 foot, left\" \"rib 3 foot, left\" "
        "--kind \"round by hand\"",
        chosen);
    command.folder();
    command.texts("POINTS", command->points, "names of points")->required();
    command.text("--kind", command->kind, "name of the kind; \"\" for none")->required();
  }
  {
    Subcommand<PointList> command(point, "list", "List points", "scantling point list hauler",
                                  chosen);
    command.folder();
  }
  Subcommand<PointRemove> remove(point, "remove", "Remove points with their marks",
                                 "scantling point remove hauler \"beacon tip, left\"", chosen);
  remove.folder();
  remove.texts("POINTS", remove->points, "names of points")->required();
}

void add_bar_group(CLI::App& app, Chosen& chosen) {
  CLI::App& bar = group(app, "bar", "Scale bars: known lengths between points");
  {
    Subcommand<BarAdd> command(
        bar, "add", "Add a known length",
        "scantling bar add hauler front --from T03 --to T18 --length 300mm --u 0.02mm", chosen);
    command.folder();
    command.text("NAME", command->name, "name of the bar")->required();
    command.text("--from", command->from, "point at one end")->required();
    command.text("--to", command->to, "point at the other end")->required();
    command.text("--length", command->length, "with its unit: 300mm")->required();
    command.text("--u", command->u, "the bar's own standard uncertainty: 0.02mm")->required();
    command.text("--u-common", command->u_common,
                 "standard uncertainty shared by all bars of one certificate: 0.01mm");
    command.text("--certificate", command->certificate, "id of the certificate");
    command.text("--expansion", command->expansion,
                 "of the bar, per kelvin: 11.5e-6; the length then holds at 20 degrees Celsius");
    command.text("--expansion-u", command->expansion_u, "its standard uncertainty");
    command.text("--temperature", command->temperature, "of the bar on the day, degrees Celsius");
    command.text("--temperature-u", command->temperature_u, "its standard uncertainty");
    command.flag("--check", command->check, "only compare: never used in the solution");
  }
  {
    Subcommand<BarList> command(bar, "list", "List scale bars", "scantling bar list hauler",
                                chosen);
    command.folder();
  }
  Subcommand<BarRemove> remove(bar, "remove", "Remove a scale bar",
                               "scantling bar remove hauler \"bar C\"", chosen);
  remove.folder();
  remove.text("NAME", remove->name, "name of the bar")->required();
}

/// A mark on a shape is told by where it is.
template <typename Command>
void add_place(Subcommand<Command>& command) {
  command.folder();
  command.text("PHOTO", command->photo, "name of the photo")->required();
  command.text("SHAPE", command->shape, "name of the shape")->required();
  command
      .texts("--at", command->at, 2, "x and y in pixels; the centre of the top left pixel is 0 0")
      ->required();
}

void add_shape_marks(CLI::App& shape, Chosen& chosen) {
  {
    Subcommand<ShapeMark> command(
        shape, "mark", "Set a mark anywhere along a shape",
        "scantling shape mark hauler hauler_03.jpg \"exhaust, left\" --at 1204.5 733.0 --side 1",
        chosen);
    add_place(command);
    command.number("--side", command->side, "of a cylinder: 1 or 2, for either side in this photo")
        ->check(CLI::Range(1, 2));
    command.text("--sigma", command->sigma,
                 "standard uncertainty across the shape in pixels (default 0.5)");
  }
  {
    Subcommand<ShapeUnmark> command(
        shape, "unmark", "Remove a mark from a shape",
        "scantling shape unmark hauler hauler_02.jpg \"hopper rim edge, left\" --at 858.91 118.07",
        chosen);
    add_place(command);
  }
  {
    Subcommand<ShapeSetAside> command(shape, "set-aside",
                                      "Keep a mark on a shape, but do not use it",
                                      "scantling shape set-aside hauler hauler_02.jpg \"hopper rim "
                                      "edge, left\" --at 858.91 118.07",
                                      chosen);
    add_place(command);
    command.flag("--take-up", command->take_up, "use it again");
  }
  {
    Subcommand<ShapeMarks> command(shape, "marks", "List marks on shapes",
                                   "scantling shape marks hauler", chosen);
    command.folder();
    command.text("--shape", command->shape, "of this shape only");
  }
  Subcommand<ShapeImport> command(
      shape, "import",
      "Import a table of marks on shapes: photo,shape,x,y[,side][,sigma]; all of it or nothing",
      "scantling shape import hauler shape_marks.csv --pixel-origin centre", chosen);
  command.folder();
  command.text("TABLE", command->table, "CSV file in UTF-8")->required();
  command
      .text("--pixel-origin", command->pixel_origin,
            "what lies at (0, 0): the centre of the top left pixel, or its outer corner")
      ->check(CLI::IsMember({"centre", "corner"}));
  command
      .text("--as", command->turned_photos,
            "for photos that EXIF turns: measured as stored (not turned) or as shown (turned)")
      ->check(CLI::IsMember({"stored", "shown"}));
  command.text("--sigma", command->sigma, "pixels, where the table gives none (default 0.5)");
}

void add_shape_group(CLI::App& app, Chosen& chosen) {
  CLI::App& shape = group(app, "shape", "Edges, rounds and planes");
  {
    Subcommand<ShapeAdd> command(shape, "add", "Add a shape",
                                 "scantling shape add hauler \"hatch edge\" --edge\n"
                                 "  scantling shape add hauler \"hose\" --outline\n"
                                 "  scantling shape add hauler table --plane T03,T10,T18,T20\n"
                                 "  scantling shape add hauler middle --mirror \"rim bolt 1, "
                                 "left\" \"rim bolt 1, right\" \"rim "
                                 "bolt 2, left\" \"rim bolt 2, right\"",
                                 chosen);
    command.folder();
    command.text("NAME", command->name, "name of the shape")->required();
    command.flag("--edge", command->edge, "a straight edge, marked itself anywhere along it");
    command.flag("--rim", command->rim, "a circle, marked itself anywhere along its rim");
    command.flag("--outline", command->outline,
                 "a cylinder, marked itself along both sides of its outline");
    command.text("--kind", command->kind,
                 "of what is marked itself: a point kind, how well its place is defined");
    command.texts("--line", command->line, "through two points or more: A,B");
    command.texts("--plane", command->plane, "through three points or more: A,B,C");
    command.texts("--circle", command->circle, "through three points or more");
    command.texts("--sphere", command->sphere, "through four points or more");
    command.texts("--cylinder", command->cylinder, "through five points or more");
    command.texts("--cone", command->cone, "through six points or more");
    command.texts("--crossing", command->crossing, 2, "of two lines or planes");
    command.texts("--mid-plane", command->mid_plane, 2, "halfway between two planes");
    command.text("--parallel", command->parallel, "to a plane, with --through or --by");
    command.text("--through", command->through, "the point that a parallel plane goes through");
    command.text("--by", command->offset,
                 "by how much a parallel plane is offset, like 3mm; towards its positive side");
    command.texts("--mirror", command->mirror, "pairs of points, one after the other: A,A',B,B'");
  }
  {
    Subcommand<ShapeList> command(shape, "list", "List shapes", "scantling shape list hauler",
                                  chosen);
    command.folder();
  }
  {
    Subcommand<ShapeRename> command(
        shape, "rename", "Give a shape another name",
        "scantling shape rename hauler \"exhaust, left\" \"exhaust pipe\"", chosen);
    command.folder();
    command.text("NAME", command->name, "name of the shape")->required();
    command.text("NEW", command->new_name, "its new name")->required();
  }
  {
    Subcommand<ShapeRemove> command(shape, "remove", "Remove a shape and its marks",
                                    "scantling shape remove hauler \"front bumper edge, upper\"",
                                    chosen);
    command.folder();
    command.text("NAME", command->name, "name of the shape")->required();
  }
  add_shape_marks(shape, chosen);
}

void add_axes_group(CLI::App& app, Chosen& chosen) {
  CLI::App& axes = group(app, "axes", "The model axes: your own plane, line and origin");
  {
    Subcommand<AxesSet> command(
        axes, "set",
        "Say which plane heights are measured from, which line x runs along, and from where",
        "scantling axes set hauler --plane ground --line \"centre line\" --origin bow", chosen);
    command.folder();
    command.text("--plane", command->plane, "z is the height over it (waterline, ground)")
        ->required();
    command.text("--line", command->line, "x runs along it, y across")->required();
    command.text("--origin", command->origin, "the point where x is 0")->required();
  }
  Subcommand<AxesClear> command(axes, "clear", "Have no axes of your own",
                                "scantling axes clear hauler", chosen);
  command.folder();
}

void add_dimension_group(CLI::App& app, Chosen& chosen) {
  CLI::App& dimension = group(app, "dimension", "Dimensions that are asked");
  {
    Subcommand<DimensionAdd> command(
        dimension, "add", "Ask for a dimension",
        "scantling dimension add hauler \"across the lamps\" --distance \"headlamp centre, left\" "
        "\"headlamp centre, right\"\n"
        "  scantling dimension add hauler \"cap over table\" --along T03 \"fuel cap\" --axis deck\n"
        "  scantling dimension add hauler \"corner of targets\" --angle T03 T10 T18\n"
        "  scantling dimension add hauler \"cap above targets\" --offset \"fuel cap\" --plane "
        "T03,T10,T18\n"
        "  scantling dimension add hauler \"bolt off its row\" --offset \"rim bolt 2, left\" "
        "--line "
        "\"rim bolt 1, left\" \"rim bolt 3, left\"\n"
        "  scantling dimension add hauler \"pipe\" --diameter \"pipe, left fender\"\n"
        "  scantling dimension add hauler \"rivet pitch\" --pitch \"rim rivet 2, left\" \"rim "
        "rivet 3, "
        "left\" \"rim rivet 4, left\"",
        chosen);
    command.folder();
    command.text("NAME", command->name, "name of the dimension")->required();
    command.texts("--distance", command->distance, 2, "between two points or shapes");
    command.texts("--along", command->along, 2, "distance of two points along the axis");
    command.texts("--axis", command->axis, "a line, axis or plane's normal, or two points")
        ->expected(1, 2);
    command.text("--offset", command->offset, "of a point from a plane or a line");
    command.texts("--plane", command->plane,
                  "a plane, or three points or more: A,B,C or, for names with commas, A B C");
    command.texts("--line", command->line,
                  "a line or axis, or two points: A,B or, for names with commas, A B");
    command.texts("--gap", command->gap, 2, "between two parallel planes, lines or axes");
    command.texts("--angle", command->angle, 3, "at the second of three points");
    command.texts("--angle-between", command->angle_between, 2, "two lines, planes or axes");
    command.text("--radius", command->radius, "of a circle, sphere or cylinder");
    command.text("--diameter", command->diameter, "of a circle, sphere or cylinder");
    command.text("--cone-angle", command->cone_angle, "the full angle of a cone");
    command.texts("--chain", command->chain, "length from point to point: A,B,C");
    command.texts("--arc", command->arc, 3,
                  "along a circle: its name, and the points at both ends");
    command.text("--via", command->via, "a point that the arc passes; else it is the shorter way");
    command.texts("--pitch", command->pitch, "mean spacing of a row of points: A,B,C");
    command.texts("--row-departure", command->row_departure,
                  "largest departure of a row from even spacing: A,B,C");
    command.texts("--area", command->area, "of the planar outline through points: A,B,C");
    command.text("--x", command->x, "coordinate of a point along the model's line");
    command.text("--y", command->y, "coordinate of a point across the model's line");
    command.text("--z", command->z, "height of a point over the model's plane");
    command.texts("--mirror-departure", command->mirror_departure, 3,
                  "a mirror plane and two points: how far they are from symmetric");
  }
  {
    Subcommand<DimensionList> command(dimension, "list", "List what is asked",
                                      "scantling dimension list hauler", chosen);
    command.folder();
  }
  Subcommand<DimensionRemove> remove(dimension, "remove", "Ask no longer",
                                     "scantling dimension remove hauler \"wheelbase, left\"",
                                     chosen);
  remove.folder();
  remove.text("NAME", remove->name, "name of the dimension")->required();
}

}  // namespace

void add_dossier_commands(CLI::App& app, Chosen& chosen) {
  add_dossier_group(app, chosen);
  add_camera_group(app, chosen);
  add_photo_group(app, chosen);
  add_mark_group(app, chosen);
  add_point_group(app, chosen);
  add_bar_group(app, chosen);
  add_shape_group(app, chosen);
  add_axes_group(app, chosen);
  add_dimension_group(app, chosen);
}

}  // namespace cli
