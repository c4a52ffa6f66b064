// Where the borders of a re-picked slide lie: each pair of notes stands a little on either side of one. Frames of 5 ms without noise.
#include "src/practice/move_finder.h"

#include <functional>

#include <doctest/doctest.h>

#include "tests/support/deaf_ear.h"
#include "tests/support/played_curve.h"

using namespace landfall;

namespace {

using Curve = std::function<double(double)>;  // cents on the MIDI scale, over seconds since its stroke

Note noteOf(double onset, double seconds, const Curve& cents) {
    Note note(1, onset, true);
    for (int i = 0; i < static_cast<int>(std::lround(seconds / 0.005)); ++i)
        note.add({.time = onset + 0.005 * i, .cents = cents(0.005 * i), .sd = 0.1, .level = -20.0});
    note.end = onset + seconds;
    return note;
}

const Move slide = moveOf(Gesture::slide, 62, 67);

// A second on D4 that is `by` cents away between two moments before its end, and G4 picked `pause` after that.
bool joins(double by, double from, double to = 0.0, double pause = 0.0, double wrongFor = 0.0) {
    const Note before =
        noteOf(0.0, 1.0, [=](double t) { return 6200.0 + (t > 1.0 - from && t < 1.0 - to ? by : 0.0); });
    const Note after = noteOf(1.0 + pause, 0.5, [=](double t) { return t < wrongFor ? 6200.0 : 6700.0; });
    MoveFinder finder({}, Targets(Target::concert), deafEar());
    finder.moves = {slide};
    return finder.slidInto(before, after, 0) != nullptr;
}

}  // namespace

TEST_CASE(
    "A slide that is picked again where it arrives has left its place by 60 cents, in the last 0.35 s but not the last "
    "0.03") {
    CHECK(joins(70.0, 0.1));
    CHECK_FALSE(joins(50.0, 0.1));
    CHECK(joins(200.0, 0.45, 0.29));
    CHECK_FALSE(joins(200.0, 0.50, 0.40));
    CHECK(joins(200.0, 0.042));
    CHECK_FALSE(joins(200.0, 0.026));
}

TEST_CASE("The second stroke comes within 0.12 s, and its pitch is heard from 0.03 s on") {
    CHECK(joins(200.0, 0.1, 0.0, 0.1));
    CHECK_FALSE(joins(200.0, 0.1, 0.0, 0.15));
    CHECK(joins(200.0, 0.1, 0.0, 0.0, 0.0575));  // 6 of the 13 frames after that
    CHECK_FALSE(joins(200.0, 0.1, 0.0, 0.0, 0.075));
}

TEST_CASE("A note read out of another that grows, or is cut, is what it is when it is read out at once") {
    MoveFinder grown({}, Targets(Target::concert), deafEar());
    grown.moves = {slide};
    const Note before = noteOf(0.0, 1.0, [](double t) { return t > 0.9 ? 6400.0 : 6200.0; });
    Note note(2, 1.0, true);
    int differ = 0, joined = 0;
    const auto look = [&] {
        MoveFinder fresh({}, Targets(Target::concert), deafEar());
        fresh.moves = {slide};
        const Note *now = grown.slidInto(before, note, 0), *once = fresh.slidInto(before, note, 0);
        joined += now != nullptr;
        differ += (now == nullptr) != (once == nullptr)
                  || (now && (now->points().size() != once->points().size() || now->end != once->end));
    };
    for (int i = 0; i < 200; ++i) {
        const double wanders = 30.0 * std::sin(0.3 * i);
        note.add({.time = 1.0 + 0.005 * i, .cents = 6700.0 + wanders, .sd = 0.1, .level = -20.0});
        if (i == 150) note.cutAt(1.6);
        look();
    }
    note.end = 2.0;
    look();
    CHECK(joined > 100);
    CHECK(differ == 0);
}

TEST_CASE("A stroke on another pitch belongs to a run for 0.3 s") {
    MoveFinder finder({}, Targets(Target::concert), deafEar());
    const auto run = [&](double after) {
        const Note before = noteOf(0.0, after, [](double) { return 6500.0; });
        return finder.isOfRun(noteOf(after, 0.5, [](double) { return 6200.0; }), &before);
    };
    CHECK(run(0.25));
    CHECK_FALSE(run(0.36));
}
