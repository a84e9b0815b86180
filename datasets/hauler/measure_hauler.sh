# The main job on the demo original: photographs to dimension table. Sourced by tools/try, which sets $scantling,
# $results and $root. Truth is read at the very end, by compare.py, when all results are written.

demo=$root/datasets/hauler
hauler=$results/hauler
say "3. The demo original: calibrating its camera from twelve photos of a board"
"$scantling" calibrate "$demo"/board/*.jpg --inner 11x8 --square 20mm --output "$results/hauler_camera.json" --name hauler

say "4. A dossier of sixteen photos: targets measured in the images, marks by hand of points, and along edges and rounds"
"$scantling" dossier new "$hauler" --name "Tracked ore hauler" --model-scale 1:48 --replica-scale 1:72
"$scantling" photo add "$hauler" "$demo"/photos/*.jpg --camera "$results/hauler_camera.json"
"$scantling" mark import "$hauler" "$demo/targets.csv" --pixel-origin centre --sigma 1.5
"$scantling" mark refine "$hauler"
"$scantling" mark import "$hauler" "$demo/marks.csv" --pixel-origin centre
"$scantling" mark import "$hauler" "$demo/bolt_marks.csv" --pixel-origin centre
python3 "$demo/enter_survey.py" "$scantling" "$hauler"
"$scantling" shape import "$hauler" "$demo/shape_marks.csv" --pixel-origin centre

say "5. Adjusting; marks that fail the test are set aside, and named"
"$scantling" adjust "$hauler" --set-aside-doubted
"$scantling" verify "$hauler"

say "6. Edges, rounds and planes, and how true to their form they are"
"$scantling" shapes "$hauler"

say "7. The dimensions: model scale, full scale, replica 1:72"
"$scantling" dimensions "$hauler"
"$scantling" dimensions "$hauler" --json > "$results/hauler_dimensions.json"
echo
"$scantling" explain "$hauler" "Ø exhaust, left"

say "8. Against the truth, which only now is read"
python3 "$demo/compare.py" "$results/hauler_dimensions.json"
