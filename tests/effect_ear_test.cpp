#include "src/practice/effect_ear.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <string_view>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/effect_tries.h"
#include "tests/support/string_sound.h"

using namespace landfall;

namespace {

using Told = std::vector<HeardEffect>;

// A settled frame: dB below full scale, cents from E4, PitchFrame::wander.
struct Written {
    double level = -90.0;
    std::optional<double> cents{};
    double wander = 0.0;
};
// Notes a second long and as much of what follows them, written down as settled frames: `at` is asked for the seconds
// since the first note and since the stroke.
template <typename At>
Told toldOfNotes(int notes, At at, double every = 1.7, double unevenBy = 0.05) {
    EffectEar ear;
    Told told;
    std::mt19937 random(4);
    std::normal_distribution<double> noise(0.0, 0.3);
    double t = 0.0;
    for (int note = 0; note < notes; ++note) {
        ear.stroke(Seconds(t));
        const double struck = t, end = t + every + unevenBy * static_cast<double>(random() % 10);
        for (; t < end; t += 0.005) {
            const Written now = at(t, t - struck);
            PitchFrame frame;
            frame.centre = frame.available = Seconds(t);
            if (now.cents) frame.pitch = frequencyOf(MidiPitch(64.0 + (*now.cents + noise(random)) / 100.0));
            frame.level = Decibels(now.level + noise(random));
            frame.wander = Cents(now.wander);
            if (const auto effect = ear.settled(frame)) told.push_back(*effect);
        }
    }
    return told;
}

double turn(double rate, double t) { return std::sin(2.0 * std::numbers::pi * rate * t); }

// A string that a hand silences after a second; then what else is there.
Written ringing(double since, Written after = {}, double cents = 0.0, double wander = 0.0) {
    return since < 1.0 ? Written{-20.0 - 8.0 * since, cents, wander} : after;
}

Told toldOfSound(std::vector<float> samples) {
    Told told;
    for (const EffectHeard& heard : effectsToldOf(std::move(samples))) told.push_back(heard.effect);
    return told;
}

// What is told of a student's tries through an effect.
Told toldThrough(std::string_view effect, std::string_view move, int tries) {
    const auto named = [](std::string_view name) { return [name](const auto& one) { return one.name == name; }; };
    const auto takes = effectTakes();
    const auto take = std::ranges::find_if(takes, named(move));
    const auto by = std::ranges::find_if(effects(), named(effect));
    REQUIRE(take != takes.end());
    REQUIRE(by != effects().end());
    return toldOfSound(through(*by, playedTake(*take, tries, 21).sound, 22).samples);
}

constexpr auto ring = HeardEffect::ringing, waver = HeardEffect::wavering;

}  // namespace

TEST_CASE("notes that ring and stop have no effect on them") {
    CHECK(toldOfNotes(12, [](double, double since) { return ringing(since); }).empty());
}

// A reverberation time is that of a fall by 60 dB (ISO 3382). Rooms to listen in have 0.3 to 0.6 s (IEC 60268-13, from
// memory).
TEST_CASE("a note that goes on after its cut and falls is a reverberation; a room to live in is none") {
    const auto reverberant = [](double seconds) {
        return [seconds](double, double since) {
            const double level = -34.0 - 60.0 / seconds * (since - 1.0);
            return ringing(since, level > -85.0 ? Written{level, 0.0} : Written{});
        };
    };
    for (const double seconds : {1.0, 1.5, 2.5}) CHECK(toldOfNotes(4, reverberant(seconds)) == Told{ring});
    CHECK(toldOfNotes(3, reverberant(1.5)).empty());
    for (const double seconds : {0.3, 0.45, 0.6}) CHECK(toldOfNotes(20, reverberant(seconds)).empty());
}

TEST_CASE("steps downward are an echo; another string that answers, and what comes back, are none") {
    const auto steps = [](double t) { return -36.0 - 9.0 * std::floor(t / 0.35); };
    const auto slowly = [](double t) { return -36.0 - 6.0 * t; };
    const auto fast = [](double t) { return -36.0 - 30.0 * t; };
    const auto again = [](double t) { return -36.0 - 30.0 * t + 6.0 * turn(5.0, t); };
    const auto toldOfTails = [](int notes, auto level, double cents = 0.0) {
        return toldOfNotes(notes, [&](double, double since) { return ringing(since, {level(since - 1.0), cents}); });
    };
    CHECK(toldOfTails(4, steps) == Told{ring});
    CHECK(toldOfTails(4, fast) == Told{ring});
    CHECK(toldOfTails(20, fast, -500.0).empty());
    CHECK(toldOfTails(20, slowly).empty());
    CHECK(toldOfTails(20, again).empty());
}

TEST_CASE("partials that go ways of their own in five of eight notes are told, in four not") {
    int note = 0;
    const auto some = [&](int of8) {
        note = 0;
        return toldOfNotes(25, [&note, of8, last = 9.0](double, double since) mutable {
            note += since < last;
            last = since;
            return ringing(since, {}, 0.0, note % 8 < of8 ? 2.5 : 0.5);
        });
    };
    CHECK(some(5) == Told{waver});
    CHECK(some(4).empty());
}

TEST_CASE("a pitch that swings through all notes alike is told; a hand's vibrato begins anew with each note") {
    CHECK(toldOfNotes(16, [](double t, double since) { return ringing(since, {}, 12.0 * turn(5.5, t)); })
          == Told{waver});
    CHECK(toldOfNotes(9, [](double t, double since) { return ringing(since, {}, 12.0 * turn(5.5, t)); }).empty());
    CHECK(toldOfNotes(40, [](double, double since) { return ringing(since, {}, 12.0 * turn(5.5, since)); }).empty());
    // Nor at one and the same moment of it.
    std::mt19937 random(7);
    std::uniform_real_distribution<double> anyTurn(0.0, 1.0);
    double phase = 0.0, last = 2.0;
    CHECK(toldOfNotes(60, [&](double, double since) {
              if (since < last) phase = anyTurn(random);
              last = since;
              return ringing(since, {}, 12.0 * turn(5.5, since + phase / 5.5));
          }).empty());
}

// Each pair stands a little on either side of one of the ear's borders.
TEST_CASE("a cut takes 5 to 18 dB within 60 ms from a note that has rung for 0.3 s, and its own pitch goes on") {
    const auto told = [](double length, double speed, double lost, double cents) {
        return toldOfNotes(8, [=](double, double since) {
            const double past = since - length, level = -20.0 - 8.0 * std::min(since, length);
            const double fall =
                past < 0.0 ? 0.0 : std::min(lost, speed * past) + 30.0 * std::max(0.0, past - lost / speed);
            const double now = level - fall;
            return now > -80.0 ? Written{now, past < 0.0 ? 0.0 : cents} : Written{};
        });
    };
    CHECK(told(1.0, 1000.0, 8.0, 0.0) == Told{ring});
    CHECK(told(0.37, 1000.0, 8.0, 0.0) == Told{ring});
    CHECK(told(0.25, 1000.0, 8.0, 0.0).empty());
    CHECK(told(1.0, 1000.0, 14.5, 0.0) == Told{ring});
    CHECK(told(1.0, 1000.0, 22.0, 0.0).empty());
    CHECK(told(1.0, 1000.0, 8.0, 32.0) == Told{ring});
    CHECK(told(1.0, 1000.0, 8.0, 50.0).empty());
    CHECK(told(1.0, 66.0, 7.0, 0.0).empty());  // 4 dB in 60 ms
}

TEST_CASE("partials waver by 1.5 cents, in notes of 0.4 s and more") {
    const auto told = [](double length, double wander) {
        return toldOfNotes(12, [=](double, double since) {
            return since < length ? Written{-20.0 - 8.0 * since, 0.0, wander} : Written{};
        });
    };
    CHECK(told(1.0, 1.8) == Told{waver});
    CHECK(told(1.0, 1.2).empty());
    CHECK(told(0.56, 2.5) == Told{waver});
    CHECK(told(0.40, 2.5).empty());
}

TEST_CASE("a pitch swings by 2 cents at 3 to 9 Hz through ten notes of half a second within a minute") {
    const auto told = [](double cents, double rate, double length = 1.0, double every = 1.7) {
        return toldOfNotes(
            14,
            [=](double t, double since) {
                return since < length ? Written{-20.0 - 8.0 * since, std::sqrt(2.0) * cents * turn(rate, t)}
                                      : Written{};
            },
            every);
    };
    CHECK(told(2.6, 5.5) == Told{waver});
    CHECK(told(1.6, 5.5).empty());
    CHECK(told(8.0, 8.0) == Told{waver});
    CHECK(told(8.0, 11.0).empty());
    CHECK(told(8.0, 3.6) == Told{waver});
    CHECK(told(8.0, 2.3).empty());
    CHECK(told(8.0, 5.5, 0.75) == Told{waver});
    CHECK(told(8.0, 5.5, 0.635) == Told{waver});  // from 0.08 s on, in points of 25 ms
    CHECK(told(8.0, 5.5, 0.615).empty());
    CHECK(told(2.25, 8.5) == Told{waver});  // of which a point of 25 ms shows 0.93
    CHECK(told(2.08, 8.5).empty());
    CHECK(told(18.0, 5.5) == Told{waver});           // 51 cents from end to end are one note
    CHECK(told(29.0, 5.5).empty());                  // 82 are two
    CHECK(told(8.0, 5.5, 1.0, 5.2) == Told{waver});  // ten of them in 50 s
    CHECK(told(8.0, 5.5, 1.0, 7.5).empty());
}

TEST_CASE("of a held note its first second counts") {
    const auto told = [](double swings) {
        return toldOfNotes(
            14,
            [=](double t, double since) {
                if (since > 2.0) return Written{};
                return Written{-20.0, since < swings ? 12.0 * turn(5.5, t) : 25.0 * turn(4.0, since)};
            },
            2.5);
    };
    CHECK(told(1.1) == Told{waver});
    CHECK(told(0.9).empty());
}

// Strokes 1.6, 1.8, ... 3.4 s apart fall on one phase of a swing at 5 Hz, and run away from one at a little more.
TEST_CASE("a swing that explains half of what notes do from their strokes on is a hand's, at whatever moments") {
    const auto told = [](double rate) {
        return toldOfNotes(
            10, [=](double t, double since) { return ringing(since, {}, 12.0 * turn(rate, t)); }, 1.6, 0.2);
    };
    CHECK(told(5.014).empty());
    CHECK(told(5.022) == Told{waver});
}

TEST_CASE("a tail that rises by 4 dB comes back, and is no echo") {
    const auto told = [](double step) {
        return toldOfNotes(8, [step](double, double since) {
            const double past = since - 1.0, level = -36.0 - 40.0 * past + (past > 0.3 ? step : 0.0);
            return ringing(since, level > -80.0 ? Written{level, 0.0} : Written{});
        });
    };
    CHECK(told(5.5) == Told{ring});
    CHECK(told(7.2).empty());
}

TEST_CASE("a held note goes on over 0.06 s without a pitch") {
    // Half of each note is too short by itself. A gap counts from the last 25 ms that were whole.
    const auto told = [](double gap) {
        return toldOfNotes(14, [=](double t, double since) {
            if (since > 0.9 || (since > 0.45 && since < 0.45 + gap)) return Written{};
            return Written{-20.0, 12.0 * turn(5.5, t)};
        });
    };
    CHECK(told(0.0) == Told{waver});
    CHECK(told(0.03) == Told{waver});
    CHECK(told(0.085).empty());
}

TEST_CASE("echo, reverberation, chorus and a vibrato pedal are told of a student's tries") {
    CHECK(toldThrough("delay", "full step", 8) == Told{ring});
    CHECK(toldThrough("reverb", "slide, two frets", 8) == Told{ring});
    CHECK(toldThrough("chorus", "full step", 9) == Told{waver});
    CHECK(toldThrough("vibrato pedal", "full step", 13) == Told{waver});
}

TEST_CASE("nothing is told of dry tries, a room, or an effect that leaves the marks as they are") {
    for (const auto move : {"full step", "slide, octave", "wide vibrato"}) {
        CAPTURE(move);
        CHECK(toldThrough("dry", move, 12).empty());
    }
    for (const auto move : {"full step", "wide vibrato"}) {
        CAPTURE(move);
        CHECK(toldThrough("room", move, 10).empty());
    }
    for (const auto effect : {"compressor", "gate", "tremolo", "open strings ring along"}) {
        CAPTURE(effect);
        CHECK(toldThrough(effect, "half step", 9).empty());
    }
}

TEST_CASE("nothing is told of noodling, speech and silence") {
    SimulatedPlayer::Config student;
    student.sampleRate = effectRate;
    student.seed = 5;
    SimulatedPlayer player(student);
    player.noodle(Seconds(40.0), {2, 8});
    for (int string = 1; string <= 6; ++string) player.playOpenString(string);
    std::vector<float> played(static_cast<std::size_t>(player.queued().value * effectRate));
    player.read(played);
    CHECK(toldOfSound(std::move(played)).empty());
    for (const Speaker& speaker : speakers()) CHECK(toldOfSound(speech(speaker, 30.0)).empty());
    CHECK(toldOfSound(std::vector<float>(static_cast<std::size_t>(5.0 * effectRate))).empty());
}
