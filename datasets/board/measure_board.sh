# The main job on real photographs: Debian's opencv-doc shows a checkerboard of 30 mm squares, 9×6 inner corners, in
# 13 photos of one camera. One half of them calibrates the camera, the other half measures the board: the same data
# must not count twice. Sourced by tools/try, which sets $scantling, $results and $sample_photos.

say "1. Real photographs: calibrating a camera from seven photos of a checkerboard"
board=$results/left
"$scantling" calibrate "$sample_photos"/left{01,03,05,07,09,12,14}.jpg --inner 9x6 --square 30mm \
  --output "$results/left_camera.json" \
  --residual-picture "$results/left_residuals.svg" --coverage-picture "$results/left_coverage.svg"

say "2. Measuring the board itself with the six other photos, as an object of unknown shape"
"$scantling" dossier new "$board" --name "Checkerboard of 30 mm squares"
"$scantling" photo add "$board" "$sample_photos"/left{02,04,06,08,11,13}.jpg --camera "$results/left_camera.json"
"$scantling" mark board "$board" --inner 9x6
# One edge is the scale bar. It was never measured for us: 0.1 mm is what a careful steel rule would leave.
"$scantling" bar add "$board" "top edge" --from "row 1 column 1" --to "row 1 column 9" --length 240mm --u 0.1mm
"$scantling" dimension add "$board" "bottom edge (240 mm as printed)" --distance "row 6 column 1" "row 6 column 9"
"$scantling" dimension add "$board" "left edge (150 mm)" --distance "row 1 column 1" "row 6 column 1"
"$scantling" dimension add "$board" "right edge (150 mm)" --distance "row 1 column 9" "row 6 column 9"
"$scantling" dimension add "$board" "diagonal (283.02 mm)" --distance "row 1 column 1" "row 6 column 9"
"$scantling" dimension add "$board" "other diagonal (283.02 mm)" --distance "row 1 column 9" "row 6 column 1"
"$scantling" dimension add "$board" "one square (30 mm)" --distance "row 3 column 4" "row 3 column 5"
"$scantling" dimension add "$board" "corner (90°)" --angle "row 1 column 9" "row 1 column 1" "row 6 column 1"
"$scantling" dimension add "$board" "middle above the corners (0 mm if flat)" --offset "row 3 column 5" \
  --plane "row 1 column 1" "row 6 column 1" "row 6 column 9" "row 1 column 9"
"$scantling" adjust "$board"
"$scantling" dimensions "$board"
echo "A printed board is flat and square to some tenths of a millimetre, so the printed sizes are no truth to 0.1 mm;"
echo "that other photos and another camera give the same shape is tested in tests/published."
