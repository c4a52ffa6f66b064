// Where the borders of a re-picked slide and of a second string lie: each pair of notes stands a little on either side
// of one. Frames of 5 ms without noise.
#include "src/practice/move_finder.h"

#include <functional>

#include <doctest/doctest.h>

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
    MoveFinder finder({}, Targets(Target::concert));
    finder.moves = {slide};
    return finder.slidInto(before, after, 0) != nullptr;
}

// Half a second on G3, beside which a second string sounds D4 in some frames.
struct Beside {
    double seconds = 0.5;
    std::function<bool(int)> hears = [](int) { return true; };
    std::function<double(int)> first = [](int) { return 0.0; };  // cents off G3
};
bool secondStarts(const Beside& given) {
    Note note(1, 0.0, true);
    for (int i = 0; i < static_cast<int>(std::lround(given.seconds / 0.005)); ++i) {
        PitchPoint point{.time = 0.005 * i, .cents = 5500.0 + given.first(i), .sd = 0.1, .level = -20.0};
        if (given.hears(i)) point.other = 6200.0, point.otherNote = -3.0;
        note.add(point);
    }
    note.end = given.seconds;
    MoveFinder finder({}, Targets(Target::concert));
    finder.moves = {moveOf(Gesture::bend, 62, 64)};
    return finder.secondStartsOn(note, 0);
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

TEST_CASE("A second string is heard in 0.3 of the frames, eight at the least, while the first stands within 40 cents") {
    CHECK(secondStarts({.hears = [](int i) { return i % 13 < 5; }}));
    CHECK_FALSE(secondStarts({.hears = [](int i) { return i % 12 < 3; }}));
    const auto some = [](int frames) {
        return secondStarts({.seconds = 0.1, .hears = [frames](int i) { return i >= 6 && i < 6 + frames; }});
    };
    CHECK(some(11));
    CHECK_FALSE(some(7));
    const auto moves = [](double cents) {
        return secondStarts({.first = [cents](int i) { return i % 25 < 13 ? 0.0 : cents; }});
    };
    CHECK(moves(34.0));
    CHECK_FALSE(moves(50.0));
}

// Ten of its frames may range over 12 cents and three times their doubt (GestureReaderConfig::steadyRange).
TEST_CASE("A second string's frames are doubtful by 4 cents: one that ranges over 22 cents stays, over 27 not") {
    const auto found = [](double range) {
        Note note(1, 0.0, true);
        for (int i = 0; i < 160; ++i) {
            const double bent = i < 60 ? 0.0 : std::min(200.0, 10.0 * (i - 60));
            note.add({.time = 0.005 * i,
                      .cents = 5500.0,
                      .sd = 0.1,
                      .level = -20.0,
                      .otherNote = -3.0,
                      .other = 6200.0 + bent + (i % 2 == 0 ? 0.5 : -0.5) * range});
        }
        note.end = 0.8;
        MoveFinder finder({}, Targets(Target::concert));
        finder.moves = {moveOf(Gesture::bend, 62, 64)};
        return !finder.second(note, 0, nullptr).empty();
    };
    CHECK(found(22.0));
    CHECK_FALSE(found(27.0));
}

TEST_CASE("A note read out of another that grows, or is cut, is what it is when it is read out at once") {
    const auto finderOf = [](const Move& move) {
        MoveFinder finder({}, Targets(Target::concert));
        finder.moves = {move};
        return finder;
    };
    const MoveFinder grown = finderOf(slide), alike = finderOf(moveOf(Gesture::bend, 62, 64));
    const Note before = noteOf(0.0, 1.0, [](double t) { return t > 0.9 ? 6400.0 : 6200.0; });
    Note note(2, 1.0, true);
    int differ = 0, joined = 0, second = 0;
    const auto look = [&] {
        const MoveFinder fresh = finderOf(slide), freshBend = finderOf(alike.moves[0]);
        const Note *now = grown.slidInto(before, note, 0), *once = fresh.slidInto(before, note, 0);
        joined += now != nullptr;
        differ += (now == nullptr) != (once == nullptr)
                  || (now && (now->points().size() != once->points().size() || now->end != once->end));
        const bool starts = alike.secondStartsOn(note, 0);
        second += starts;
        differ += starts != freshBend.secondStartsOn(note, 0);
    };
    for (int i = 0; i < 200; ++i) {
        const double wanders = 30.0 * std::sin(0.3 * i);
        PitchPoint point{.time = 1.0 + 0.005 * i, .cents = 6700.0 + wanders, .sd = 0.1, .level = -20.0};
        if (i % 3 > 0) point.other = 6200.0, point.otherNote = -3.0;
        note.add(point);
        if (i == 150) note.cutAt(1.6);
        look();
    }
    note.end = 2.0;
    look();
    CHECK(joined > 100);
    CHECK(second > 100);
    CHECK(differ == 0);
}

TEST_CASE("A stroke on another pitch belongs to a run for 0.3 s") {
    MoveFinder finder({}, Targets(Target::concert));
    const auto run = [&](double after) {
        const Note before = noteOf(0.0, after, [](double) { return 6500.0; });
        return finder.isOfRun(noteOf(after, 0.5, [](double) { return 6200.0; }), &before);
    };
    CHECK(run(0.25));
    CHECK_FALSE(run(0.36));
}
