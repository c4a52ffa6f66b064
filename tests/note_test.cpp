#include "src/practice/note.h"

#include <array>
#include <cmath>
#include <numbers>
#include <random>

#include <doctest/doctest.h>

#include "dsp/statistics.h"

using namespace landfall;

namespace {

// Holds, glides, vibratos, noise and gaps one after another, as chance has it: points 5 ms apart.
std::vector<PitchPoint> playedAround(unsigned seed, double seconds) {
    std::mt19937 random(seed);
    const auto upTo = [&random](double most) { return most * static_cast<double>(random() % 1000) / 1000.0; };
    std::vector<PitchPoint> points;
    double time = 1.0, pitch = 6200.0;
    const auto add = [&](double cents, double noise) {
        PitchPoint point;
        point.time = time;
        point.cents = cents + noise * (upTo(2.0) - 1.0);
        point.sd = 0.3 + 0.3 * noise;
        point.level = -20.0 - time;
        points.push_back(point);
        time += 0.005;
    };
    while (time < 1.0 + seconds) {
        const double began = time, length = 0.05 + upTo(0.9), noise = random() % 4 == 0 ? 12.0 : 0.5;
        const double way = (random() % 2 == 0 ? 1.0 : -1.0) * upTo(220.0), width = 15.0 + upTo(60.0);
        switch (random() % 5) {
            case 0:
            case 1:
                while (time < began + length) add(pitch, noise);
                break;
            case 2:
                while (time < began + length) add(pitch + way * (time - began) / length, noise);
                pitch += way;
                break;
            case 3:
                while (time < began + 0.6 + length)
                    add(pitch + 0.5 * width * (1.0 - std::cos(2.0 * std::numbers::pi * 5.5 * (time - began))), 0.3);
                break;
            case 4: time += upTo(0.12); break;
        }
    }
    return points;
}

void sameStretches(const Note& a, const Note& b) {
    REQUIRE(a.stretches().size() == b.stretches().size());
    for (std::size_t i = 0; i < a.stretches().size(); ++i) {
        const Stretch &one = a.stretches()[i], &other = b.stretches()[i];
        CHECK(one.state == other.state);
        for (const auto value : {&Stretch::begin, &Stretch::end, &Stretch::level, &Stretch::rate, &Stretch::bottom,
                                 &Stretch::top, &Stretch::evenness})
            CHECK(one.*value == other.*value);
    }
    CHECK(a.start() == b.start());
}

Note noteOf(std::span<const PitchPoint> points, bool struck) {
    Note note(1, 1.0, struck);
    for (const PitchPoint& point : points) note.add(point);
    return note;
}

}  // namespace

TEST_CASE("A note that is read as it grows has the stretches of one that is read at its end, bit for bit") {
    std::array<int, 4> states{};
    for (unsigned seed = 1; seed <= 12; ++seed) {
        CAPTURE(seed);
        const auto points = playedAround(seed, 6.0);
        const bool struck = seed % 3 != 0;
        Note growing(1, 1.0, struck);
        for (std::size_t i = 0; i < points.size(); ++i) {
            growing.add(points[i]);
            if (seed % 2 == 0 || i % 7 == 0) growing.stretches();  // asked now and then, or always
            if (i % 11 == 0) sameStretches(growing, noteOf(std::span(points).first(i + 1), struck));
        }
        growing.end = points.back().time + 0.1;
        Note whole = noteOf(points, struck);
        whole.end = growing.end;
        sameStretches(growing, whole);
        for (const Stretch& stretch : whole.stretches()) ++states[static_cast<std::size_t>(stretch.state)];
    }
    for (const StretchState state : {StretchState::plateau, StretchState::move, StretchState::vibrato}) {
        CAPTURE(static_cast<int>(state));
        CHECK(states[static_cast<std::size_t>(state)] >= 10);
    }
}

TEST_CASE("A note cut where another began is the note that never heard the rest") {
    const auto points = playedAround(4, 3.0);
    for (const std::size_t at : {std::size_t{0}, std::size_t{3}, points.size() / 2, points.size()}) {
        CAPTURE(at);
        Note note = noteOf(points, true);
        note.stretches();
        const auto rest = note.cutAt(at < points.size() ? points[at].time : 1e9);
        CHECK(rest.size() == points.size() - at);
        CHECK(note.points().size() == at);
        const Note before = noteOf(std::span(points).first(at), true);
        sameStretches(note, before);
        CHECK(note.loudest() == before.loudest());
    }
}

TEST_CASE("The median of a run that grows and shrinks is that of its points") {
    const auto points = playedAround(7, 2.0);
    std::mt19937 random(3);
    MedianOfRun run;
    for (int i = 0; i < 300; ++i) {
        const std::size_t begin = static_cast<std::size_t>(i / 100 * 5),
                          end = begin + 1 + random() % (points.size() - begin);
        std::vector<double> cents;
        for (std::size_t k = begin; k < end; ++k) cents.push_back(points[k].cents);
        CHECK(run.of(points, begin, end) == median(cents));
    }
}
