// What must hold for any sound: a change of the sound that has a known effect on its pitch has that effect on every
// landing, and no other.
#include <doctest/doctest.h>

#include <random>
#include <utility>

#include "tests/support/heard_events.h"
#include "tests/support/resampled.h"
#include "tests/support/student_takes.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;

// What a change of the sound may do to a mark, in cents, where it should do nothing: the hops lie elsewhere, so the
// medians are of other frames. Nothing is graded finer than 3 cents.
constexpr double landingTolerance = 0.6, firstStopTolerance = 1.0;
// The last entry into a band of 8 cents: in noise a wobble of the approach more or less moves it by some hops. Students
// are told tenths of a second.
constexpr double timeTolerance = 0.030;

struct Difference {
    double cents = 0.0;  // landings of the changed sound - of the original
    double speed = 1.0;  // of the playback
    double later = 0.0;  // seconds
};

// A shared take as it was played, and what was said of it.
struct Heard : StudentTake, TakeSound {
    std::vector<ListenerEvent> events;
    std::vector<Landing> landings;
};

// Each test case is a process of its own; within one process the takes are heard once.
const std::vector<Heard>& heardTakes() {
    static std::vector<Heard> all;
    if (!all.empty()) return all;
    for (const StudentTake& take : studentTakes()) {
        Heard heard{take, soundOf(take), {}, {}};
        heard.events = eventsHeard(heard.samples, {.sampleRate = rate}, take.moves(), MoveOrder::once,
                                   [](std::size_t) { return std::size_t{4096}; });
        heard.landings = landingsOf(heard.events);
        all.push_back(heard);
    }
    return all;
}

void checkTheSame(const std::vector<ListenerEvent>& one, const std::vector<ListenerEvent>& other) {
    REQUIRE(one.size() == other.size());
    for (std::size_t i = 0; i < one.size(); ++i) REQUIRE(bitsOf(one[i]) == bitsOf(other[i]));
}

void checkAlike(const Heard& take, const std::vector<Landing>& changed, const Difference& expected) {
    CAPTURE(take.name);
    const std::vector<Landing>& original = take.landings;
    REQUIRE(original.size() == take.played.size());
    REQUIRE(changed.size() == original.size());
    for (std::size_t i = 0; i < original.size(); ++i) {
        const Landing &one = original[i], &other = changed[i];
        CAPTURE(one.moveNumber);
        CAPTURE(one.sentence);
        CAPTURE(other.sentence);
        CHECK(other.moveNumber == one.moveNumber);
        REQUIRE(other.landingError.has_value() == one.landingError.has_value());
        if (!one.landingError) continue;
        // A vibrato at another speed fills the time that is marked with other parts of its cycles.
        if (one.move.gesture == Gesture::vibrato && std::abs(expected.speed - 1.0) > 0.1) continue;
        CHECK(std::abs(other.landingError->value - one.landingError->value - expected.cents) <= landingTolerance);
        REQUIRE(other.firstStopError.has_value() == one.firstStopError.has_value());
        CHECK(std::abs(other.firstStopError->value - one.firstStopError->value - expected.cents) <= firstStopTolerance);
        CHECK(std::abs(other.landingTime->value - one.landingTime->value / expected.speed - expected.later)
              <= timeTolerance);
        if (expected.cents == 0.0) CHECK(other.verdict == one.verdict);
    }
}

std::vector<Move> transposed(std::vector<Move> moves, double cents) {
    for (Move& move : moves) {
        move.from = move.from + Cents(cents);
        move.to = move.to + Cents(cents);
    }
    return moves;
}

}  // namespace

TEST_CASE("A take played back faster or slower lands higher or lower by just that many cents") {
    // Down at first, so that the student who pulls an under-bend in still does: a correction counts towards the target
    // only.
    double cents = -35.0;
    for (const Heard& take : heardTakes()) {
        CAPTURE(cents);
        const double speed = std::exp2(cents / 1200.0);
        checkAlike(take, landingsIn(resampled(take.samples, speed), rate, take.moves()),
                   {.cents = cents, .speed = speed});
        cents = -cents;  // the next take the other way
    }
}

TEST_CASE("A take played back three semitones away is marked the same against moves that lie three semitones away") {
    double cents = -300.0;
    for (const Heard& take : heardTakes()) {
        CAPTURE(cents);
        const double speed = std::exp2(cents / 1200.0);
        checkAlike(take, landingsIn(resampled(take.samples, speed), rate, transposed(take.moves(), cents)),
                   {.speed = speed});
        cents = -cents;
    }
}

TEST_CASE("A take played louder or quieter is marked the same") {
    bool quieter = true;
    for (const Heard& take : heardTakes()) {
        float peak = 0.0F;
        for (const float sample : take.samples) peak = std::max(peak, std::abs(sample));
        // As loud as it goes without clipping, where twice as loud would clip.
        const float factor = quieter ? 0.1F : std::min(2.0F, 0.99F / peak);
        CAPTURE(factor);
        auto changed = take.samples;
        for (float& sample : changed) sample *= factor;
        checkAlike(take, landingsIn(changed, rate, take.moves()), {});
        quieter = !quieter;
    }
}

TEST_CASE("Turning the polarity round changes no bit of what is said") {
    for (const Heard& take : heardTakes()) {
        CAPTURE(take.name);
        auto turned = take.samples;
        for (float& sample : turned) sample = -sample;
        checkTheSame(take.events, eventsHeard(turned, {.sampleRate = rate}, take.moves(), MoveOrder::once,
                                              [](std::size_t) { return std::size_t{4096}; }));
    }
}

TEST_CASE("A take that begins a little later is marked the same, that much later") {
    std::size_t cutOff = 101;
    for (const Heard& take : heardTakes()) {
        CAPTURE(cutOff);
        checkAlike(take, landingsIn(std::span(take.samples).subspan(cutOff), rate, take.moves()),
                   {.later = -static_cast<double>(cutOff) / rate});
        cutOff += 1201;
    }
}

TEST_CASE("However the input is cut, what is said is the same to the last bit") {
    std::mt19937 random(20261125);
    const auto anyCut = [&random](std::size_t) {
        const auto kind = random() % 8;
        return static_cast<std::size_t>(kind == 0 ? 0 : kind < 5 ? random() % 300 : random() % 6000);
    };
    for (const Heard& take : heardTakes()) {
        CAPTURE(take.name);
        checkTheSame(take.events,
                     eventsHeard(take.samples, {.sampleRate = rate}, take.moves(), MoveOrder::once, anyCut));
    }
    // Practising, too, and in one piece against many.
    const Heard& take = heardTakes().front();
    const std::vector<Move> move{take.moves().front()};
    const auto whole = eventsHeard(take.samples, {.sampleRate = rate}, move, MoveOrder::everyTry,
                                   [&take](std::size_t) { return take.samples.size(); });
    checkTheSame(whole, eventsHeard(take.samples, {.sampleRate = rate}, move, MoveOrder::everyTry, anyCut));
}

TEST_CASE("One sound at 44.1, 48 and 96 kHz is marked the same") {
    double other = 44100.0, next = 96000.0;
    for (const Heard& take : heardTakes()) {
        CAPTURE(other);
        checkAlike(take, landingsIn(resampled(take.samples, rate / other), other, take.moves()), {});
        std::swap(other, next);
    }
}

TEST_CASE("The marks of the shared takes are what was played") {
    for (const Heard& take : heardTakes()) {
        CAPTURE(take.name);
        REQUIRE(take.landings.size() == take.truths.size());
        for (std::size_t i = 0; i < take.landings.size(); ++i) {
            const Landing& landing = take.landings[i];
            CAPTURE(landing.sentence);
            REQUIRE(landing.landingError.has_value() == take.truths[i].landingError.has_value());
            if (!landing.landingError) continue;
            if (landing.move.gesture == Gesture::vibrato) {  // on a fretted note its bottom should be the note
                REQUIRE((landing.vibrato && take.truths[i].vibrato));
                CHECK(std::abs(landing.vibrato->bottom.value - take.truths[i].vibrato->bottom.value) <= 3.0);
                CHECK(std::abs(landing.vibrato->top.value - take.truths[i].vibrato->top.value) <= 3.0);
                continue;
            }
            CHECK(std::abs(landing.landingError->value - take.truths[i].landingError->value) <= 3.0);
            CHECK(std::abs(landing.firstStopError->value - take.truths[i].firstStopError->value) <= 3.0);
        }
    }
}
