// Where the judge's borders lie: each pair of curves stands a little on either side of one. Frames of 5 ms without
// noise; a full step from D4, left half a second after the stroke.
#include "src/practice/landing_judge.h"

#include <cmath>
#include <functional>
#include <numbers>

#include <doctest/doctest.h>

#include "tests/support/played_curve.h"

using namespace landfall;

namespace {

using Curve = std::function<double(double)>;  // cents from D4 over seconds since it left

const Move fullStep = moveOf(Gesture::bend, 62, 64);

struct Play {
    double seconds = 1.5;  // after it left ...
    double left = 0.5;     // ... so long after the stroke
    bool sounds = false;   // still
    std::function<void(PitchPoint&)> change = [](PitchPoint&) {};
    std::function<double(double)> level = [](double since) { return -20.0 - 4.0 * since; };
};
Note noteOf(const Curve& cents, const Play& play = {}) {
    Note note(1, 0.0, true);
    for (double t = 0.0; t < play.left + play.seconds; t += 0.005) {
        PitchPoint point{.time = t,
                         .cents = 6200.0 + (t < play.left ? 0.0 : cents(t - play.left)),
                         .sd = 0.1,
                         .level = play.level(t - play.left)};
        play.change(point);
        note.add(point);
    }
    note.heardUntil = note.points().back().time;
    if (!play.sounds) note.end = note.heardUntil;
    return note;
}
std::optional<Landing> judged(const Curve& cents, const Play& play = {}, const Move& move = fullStep) {
    const Note note = noteOf(cents, play);
    const auto attempt = findAttempt(move, nullptr, note, 0, {});
    return attempt ? std::optional(judge(move, note, *attempt, 100.0 * move.to.value, {})) : std::nullopt;
}
Landing only(const Curve& cents, const Play& play = {}, const Move& move = fullStep) {
    const auto landing = judged(cents, play, move);
    REQUIRE(landing);
    return *landing;
}

// A raised cosine from one level to another.
double glide(double t, double seconds, double from, double to) {
    const double share = std::clamp(t / seconds, 0.0, 1.0);
    return from + 0.5 * (to - from) * (1.0 - std::cos(std::numbers::pi * share));
}
Curve bend(double seconds = 0.2, double to = 200.0) {
    return [=](double t) { return glide(t, seconds, 0.0, to); };
}
// ... and so long after it another, of so many seconds.
Curve andThen(double pause, double seconds, double first, double second) {
    return [=](double t) {
        return t < 0.2 + pause ? glide(t, 0.2, 0.0, first) : glide(t - 0.2 - pause, seconds, first, second);
    };
}
double value(const std::optional<Cents>& cents) { return cents ? cents->value : 1e9; }

}  // namespace

TEST_CASE("The first stop is the middle of what sounds 20 to 150 ms after arrival, the landing of 60 to 310 ms") {
    const auto up = [](double at) {  // six cents up
        return only([=](double t) { return glide(t, 0.1, 0.0, 194.0) + (t > at ? 6.0 : 0.0); });
    };
    // Just after the middle of the one or the other, and two frames sooner.
    const double arrival = up(0.13).landingTime->value - Play{}.left;
    CHECK(value(up(arrival + 0.0875).firstStopError) == doctest::Approx(-6.0));
    CHECK(value(up(arrival + 0.0775).firstStopError) == doctest::Approx(0.0));
    CHECK(value(up(arrival + 0.1875).landingError) == doctest::Approx(-6.0));
    CHECK(value(up(arrival + 0.1775).landingError) == doctest::Approx(0.0));
}

TEST_CASE("A vibrato's landing is entered at its own depth and 15 %") {
    const auto shaken = [](double t) {
        return glide(t, 0.3, 0.0, 200.0) + (t < 0.3 ? 0.0 : 20.0 * std::sin(2.0 * std::numbers::pi * 5.5 * (t - 0.3)));
    };
    // 23 cents before 200, a raised cosine of 0.3 s is at acos(-0.77) / pi of its way.
    CHECK(std::abs(only(shaken).landingTime->value - Play{}.left - 0.3 * std::acos(-0.77) / std::numbers::pi) <= 0.008);
}

TEST_CASE("A vibrato is read from 0.1 s after its arrival on, over whole cycles; three quarters of one count as one") {
    // Its middle rises by 40 cents a second: the mean over some time is where it was in the middle of that.
    const auto readAt = [](double rate) {
        const Landing landing = only(
            [=](double t) {
                const double since = t - 0.1;
                return since < 0.0 ? glide(t, 0.1, 0.0, 200.0)
                                   : 200.0 + 40.0 * since + 15.0 * std::sin(2.0 * std::numbers::pi * rate * since);
            },
            {.seconds = 1.1});
        return value(landing.landingError) / 40.0 - (landing.landingTime->value - Play{}.left - 0.1);
    };
    CHECK(std::abs(readAt(6.0) - (0.1 + 1.0 / 6.0)) < 0.005);  // 2.46 cycles lie before 0.51 s: two
    CHECK(std::abs(readAt(6.6) - (0.1 + 1.0 / 6.6)) < 0.005);  // 2.71: two
    CHECK(std::abs(readAt(6.9) - (0.1 + 1.5 / 6.9)) < 0.005);  // 2.83: three
}

TEST_CASE("A hold of less than a tenth of a second is read over its last 0.04 s") {
    // It rises by 60 cents a second: the median is where it was in the middle of that.
    const double error = value(
        only([](double t) { return t < 0.1 ? glide(t, 0.1, 0.0, 195.0) : 195.0 + 60.0 * (t - 0.1); }, {.seconds = 0.17})
            .landingError);
    CHECK(std::abs(error - (195.0 + 60.0 * (0.165 - 0.1 - 0.02) - 200.0)) < 0.25);
}

TEST_CASE("What stands for 0.15 s before it is shaken is a landing of its own") {
    const auto then = [](double steady) {
        return value(only([=](double t) {
                         return glide(t, 0.1, 0.0, 200.0)
                                + (t < 0.1 + steady
                                       ? 0.0
                                       : 15.0 - 15.0 * std::cos(2.0 * std::numbers::pi * 5.5 * (t - 0.1 - steady)));
                     }).landingError);
    };
    CHECK(std::abs(then(0.20)) < 3.0);
    CHECK(then(0.12) > 10.0);
}

// A stay is some 40 ms longer than what stands quite still: the ends of the ways to it and from it count.
TEST_CASE("A place where the pitch stays for 0.1 s is a stop, while it sounds too; a shorter one is passed") {
    CHECK(only(andThen(0.08, 0.1, 150.0, 200.0)).correction);
    CHECK_FALSE(only(andThen(0.045, 0.1, 150.0, 200.0)).correction);
    CHECK(judged(bend(), {.seconds = 0.2 + 0.115, .sounds = true}).value().landingError);
    const auto early = judged(bend(), {.seconds = 0.2 + 0.075, .sounds = true});
    CHECK_FALSE((early && early->landingError));
}

TEST_CASE("A short turn that settles elsewhere within a quarter of a second is an overshoot, else it was the stop") {
    const auto back = [](double seconds) {
        return [=](double t) {
            return t < 0.22 ? glide(t, 0.2, 0.0, 230.0) : 230.0 - 30.0 * std::min(1.0, (t - 0.22) / seconds);
        };
    };
    CHECK_FALSE(only(back(0.24)).correction);
    CHECK(only(back(0.33)).correction);
}

TEST_CASE("What is pulled in by 12 cents and more is a correction") {
    CHECK(only(andThen(0.2, 0.1, 185.0, 200.0)).correction);
    CHECK_FALSE(only(andThen(0.2, 0.1, 191.0, 200.0)).correction);
}

TEST_CASE(
    "A move is tried from a tenth of its way and 18 cents on, a while after the stroke, as long as the string sounds") {
    const auto tries = [](double furthest, const Play& play = {}, const Move& move = fullStep) {
        return judged(
                   [=](double t) {
                       return t < 0.15 ? glide(t, 0.15, 0.0, furthest) : glide(t - 0.15, 0.15, furthest, 0.0);
                   },
                   play, move)
            .has_value();
    };
    CHECK(tries(24.0));
    CHECK_FALSE(tries(17.0));
    const Move halfStep = moveOf(Gesture::bend, 62, 63), twoSteps = moveOf(Gesture::bend, 62, 66);
    CHECK(tries(24.0, {}, halfStep));
    CHECK_FALSE(tries(15.0, {}, halfStep));
    CHECK(tries(48.0, {}, twoSteps));
    CHECK_FALSE(tries(34.0, {}, twoSteps));
    CHECK(tries(100.0, {.left = 0.17}));
    CHECK_FALSE(tries(100.0, {.left = 0.10}));
    const auto damped = [](double by) { return [by](double since) { return since < 0.0 ? -20.0 : -20.0 - by; }; };
    CHECK(tries(100.0, {.level = damped(12.5)}));
    CHECK_FALSE(tries(100.0, {.level = damped(19.0)}));
}

TEST_CASE("It has landed past a quarter of its way and 40 cents, and not so far past that it was another move") {
    const auto lands = [](double to, const Move& move) {
        const auto landing = judged(bend(0.2, to), {}, move);
        return landing && landing->landingError;
    };
    CHECK(lands(57.0, fullStep));
    CHECK_FALSE(lands(44.0, fullStep));
    const Move halfStep = moveOf(Gesture::bend, 62, 63);
    CHECK(lands(45.0, halfStep));
    CHECK_FALSE(lands(34.0, halfStep));
    CHECK(lands(440.0, fullStep));  // 460 is the most
    CHECK_FALSE(lands(500.0, fullStep));
}

TEST_CASE(
    "A slide passes frets it stays on for less than 0.3 s, and shoots past by half a fret; three frets short it has "
    "not landed") {
    const Move slide = moveOf(Gesture::slide, 62, 67);
    const auto frets = [](double first, double stays, double to) { return andThen(stays, 0.03, first, to); };
    CHECK_FALSE(only(frets(400.0, 0.20, 500.0), {}, slide).correction);
    CHECK(only(frets(400.0, 0.32, 500.0), {}, slide).correction);
    CHECK_FALSE(only(frets(560.0, 0.12, 500.0), {}, slide).correction);
    CHECK(only(frets(542.0, 0.12, 500.0), {}, slide).correction);
    CHECK(only(bend(0.2, 250.0), {}, slide).landingError);
    CHECK_FALSE(only(bend(0.2, 170.0), {}, slide).landingError);
}

TEST_CASE("No hand bends from a fifth to four fifths of its way in less than 24 ms, nor goes 75 cents back on it") {
    const auto straight = [](double seconds) { return [=](double t) { return 200.0 * std::min(1.0, t / seconds); }; };
    CHECK(judged(straight(0.045)));
    CHECK_FALSE(judged(straight(0.033)));
    const auto back = [](double by) {
        return [by](double t) {
            return t < 0.12 ? -by * std::sin(std::numbers::pi * t / 0.12) : glide(t - 0.12, 0.2, 0.0, 200.0);
        };
    };
    CHECK(judged(back(65.0)));
    CHECK_FALSE(judged(back(88.0)));
}

TEST_CASE("Eight cents past the landing are an overshoot") {
    CHECK(only(andThen(0.0, 0.08, 210.0, 200.0)).overshoot);
    CHECK_FALSE(only(andThen(0.0, 0.08, 206.0, 200.0)).overshoot);
}

TEST_CASE("A hold's end is its last 0.15 s, of the two seconds that are marked") {
    const auto sag = [](double at, double seconds) {
        return value(
            only([at](double t) { return glide(t, 0.2, 0.0, 200.0) - (t > at ? 9.0 : 0.0); }, {.seconds = seconds})
                .sag);
    };
    CHECK(sag(1.395, 1.5) == doctest::Approx(9.0));
    CHECK(sag(1.44, 1.5) == doctest::Approx(0.0));
    CHECK(sag(2.0, 3.0) == doctest::Approx(9.0));  // arrival at 0.18 s
    CHECK(sag(2.3, 3.0) == doctest::Approx(0.0));
}

TEST_CASE("What sinks by less than 80 cents after the hold sank; by how much its last 0.06 s say") {
    const auto sank = [](double by) {
        return value(
            only([by](double t) { return glide(t, 0.2, 0.0, 200.0) - by * std::max(0.0, t - 1.2) / 0.3; }).sag);
    };
    // 0.03 s before its end a tenth of the way is left.
    CHECK(std::abs(sank(60.0) - 54.0) <= 1.1);
    CHECK(std::abs(sank(75.0) - 67.5) <= 1.3);
    CHECK(sank(100.0) < 20.0);
}

TEST_CASE("A try ends three seconds after it arrived") {
    const Landing landing = only(bend(), {.seconds = 4.5});
    CHECK((landing.end - *landing.landingTime).value == doctest::Approx(3.0));
}

TEST_CASE("A struck note's hold begins 30 ms after its stroke") {
    const Move plain = moveOf(Gesture::note, 62, 62);
    const auto up = [&](double at) {
        return value(only([=](double t) { return t > at ? 6.0 : 0.0; }, {.left = 0.0}, plain).firstStopError);
    };
    CHECK(up(0.1175) == doctest::Approx(0.0));
    CHECK(up(0.1075) == doctest::Approx(6.0));
}

// Of a quarter second, five independent looks of 50 ms; the string loses 8 dB/s, as a clean one does.
TEST_CASE("A landing's doubt is what its frames say, its drift in 0.1 s, gain, and 0.15 cents of the model") {
    const auto doubt = [](double sd, double levelFall, double drift = 0.0) {
        return value(only([drift](double t) { return glide(t, 0.2, 0.0, 200.0) - drift * std::max(0.0, t - 0.2); },
                          {.change = [sd](PitchPoint& p) { p.sd = sd; },
                           .level = [levelFall](double since) { return -20.0 - levelFall * since; }})
                         .sd);
    };
    CHECK(doubt(0.1, 8.0) == doctest::Approx(std::sqrt(0.01 / 5.0 + 0.15 * 0.15)).epsilon(0.03));
    CHECK(doubt(2.0, 8.0) == doctest::Approx(std::sqrt(4.0 / 5.0 + 0.15 * 0.15)).epsilon(0.03));
    CHECK(doubt(0.1, 0.0) == doctest::Approx(std::hypot(0.157, 0.8)).epsilon(0.03));
    CHECK(doubt(0.1, 4.0) == doctest::Approx(std::hypot(0.157, 0.8 / 3.0)).epsilon(0.03));
    CHECK(doubt(0.1, 8.0, 15.0) == doctest::Approx(std::hypot(0.157, 1.5)).epsilon(0.03));
    // Two cycles of 0.2 s, all alike: a hundredth of their width.
    const auto shaken = [](double t) {
        return glide(t, 0.3, 0.0, 200.0) + (t < 0.3 ? 0.0 : 20.0 * std::sin(2.0 * std::numbers::pi * 5.0 * (t - 0.3)));
    };
    CHECK(value(only(shaken, {.level = [](double since) { return -20.0 - 8.0 * since; }}).sd)
          == doctest::Approx(std::hypot(0.155, 0.4)).epsilon(0.1));
}

TEST_CASE("What is less sure than 12 cents is not measurable") {
    const auto verdict = [](double sd) { return only(bend(), {.change = [sd](PitchPoint& p) { p.sd = sd; }}).verdict; };
    CHECK(verdict(23.0) != Verdict::notMeasurable);
    CHECK(verdict(30.0) == Verdict::notMeasurable);
}

TEST_CASE("A hold that cannot be measured died where its level falls by 60 dB/s, or where it is soon let down again") {
    const auto unsure = [](PitchPoint& p) { p.sd = 30.0; };
    const auto falling = [&](double decibels) {
        const auto level = [decibels](double since) { return -20.0 - decibels * std::max(0.0, since - 0.2); };
        return only(bend(), {.seconds = 0.45, .change = unsure, .level = level}).verdict;
    };
    CHECK(falling(50.0) == Verdict::notMeasurable);
    CHECK(falling(70.0) == Verdict::died);
    const auto held = [&](double seconds) {
        const auto upAndBack = [seconds](double t) {
            return t < 0.15 + seconds ? glide(t, 0.15, 0.0, 200.0) : glide(t - 0.15 - seconds, 0.15, 200.0, 0.0);
        };
        return only(upAndBack, {.change = unsure}).verdict;
    };
    CHECK(held(0.15) == Verdict::died);
    CHECK(held(0.35) == Verdict::notMeasurable);
}

TEST_CASE("where nobody says otherwise 25 cents are asked") {
    CHECK(only(bend(0.2, 222.0)).sentence == "Good, 22 over.");
    CHECK(only(bend(0.2, 229.0)).sentence == "29 over: ease off.");
}

// As a room does that still sounds the note that was left. What counts begins 60 ms after the arrival.
TEST_CASE("Where a hold's beginning is blurred its first sure frames stand for it: of 6 cents, a tenth of a second") {
    const auto landing = [](double sd, double sureFor, double levelFall = 4.0) {
        const auto change = [=](PitchPoint& p) {
            const double since = p.time - 0.5 - 0.2;
            const bool sure = since > 0.3 && since < 0.3 + sureFor;
            p.sd = since < 0.0 ? 0.1 : sure ? sd : 40.0;
            if (since >= 0.0 && !sure) p.cents += 15.0;
        };
        const auto level = [=](double since) { return -20.0 - levelFall * std::max(0.0, since - 0.2); };
        return only(bend(), {.seconds = 0.8, .change = change, .level = level});
    };
    CHECK(value(landing(5.5, 0.2).landingError) == doctest::Approx(0.0));
    CHECK(value(landing(5.5, 0.2).firstStopError) == doctest::Approx(0.0));
    const double sd = value(landing(5.5, 0.2).sd);  // three to four looks of 50 ms
    CHECK((sd > 5.5 / 2.0 && sd < 5.5 / std::sqrt(2.7)));
    CHECK(landing(6.5, 0.2).verdict == Verdict::notMeasurable);
    CHECK(landing(5.5, 0.11).verdict == Verdict::deadOn);
    CHECK(landing(5.5, 0.09).verdict == Verdict::notMeasurable);
    // and a string that was damped is none
    CHECK(landing(5.5, 0.2, 50.0).verdict == Verdict::deadOn);
    CHECK(landing(5.5, 0.2, 70.0).verdict == Verdict::died);
    // the first quarter of a second of them
    const auto sinks = [](double after) {
        return value(only([after](double t) { return glide(t, 0.2, 0.0, 200.0) - (t > 0.5 + after ? 8.0 : 0.0); },
                          {.change = [](PitchPoint& p) { p.sd = p.time > 0.7 && p.time < 1.0 ? 40.0 : 0.1; }})
                         .landingError);
    };
    CHECK(sinks(0.135) == doctest::Approx(0.0));
    CHECK(sinks(0.115) == doctest::Approx(-8.0));
}

TEST_CASE("A vibrato whose stay before it cannot be measured is the landing") {
    const auto shaken = [](double sd) {
        const auto curve = [](double t) {
            const double since = t - 0.4;
            return glide(t, 0.2, 0.0, 200.0)
                   + (since < 0.0 ? 0.0 : 10.0 + 20.0 * std::sin(2.0 * std::numbers::pi * 5.0 * since));
        };
        return only(curve, {.change = [sd](PitchPoint& p) { p.sd = p.time > 0.7 && p.time < 0.9 ? sd : 0.1; }});
    };
    CHECK(value(shaken(0.1).landingError) == doctest::Approx(0.0).epsilon(0.01));
    CHECK(value(shaken(40.0).landingError) == doctest::Approx(10.0).epsilon(0.1));
}
