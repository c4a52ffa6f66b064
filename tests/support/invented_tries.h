// Sittings and tries of the invented students with seeded contents, so that two programs can agree on what must be in a
// log.
#pragma once

#include <cmath>
#include <limits>
#include <random>

#include "src/store/logged_try.h"

namespace landfall {

inline Sitting inventedSitting(const std::string& student = "Ines") {
    Sitting sitting;
    sitting.student = student;
    sitting.software = "0.1.0-test";
    sitting.guitar.name = "Tobi's seven, \"drop A\"";
    sitting.guitar.openStrings = {MidiPitch(64), MidiPitch(59), MidiPitch(55),   MidiPitch(50),
                                  MidiPitch(45), MidiPitch(40), MidiPitch(33.25)};
    sitting.guitar.capo = 2;
    sitting.guitar.highestFret = 24;
    sitting.guitar.leftHanded = true;
    sitting.guitar.a4 = Hertz(442.3);
    sitting.guitar.gaugesInch = {0.0095, 0.013, 0.017, 0.026, 0.036, 0.046, 0.062};
    sitting.guitar.plainStrings = 2;
    sitting.guitar.scaleMm = 673.1;
    sitting.guitar.radiusMm = 304.8;
    sitting.guitar.actionMm = 1.6;
    sitting.input = "simulated";
    return sitting;
}

// Every field is drawn: the optional ones are empty half of the time, the words hold what CSV and SQL trip over.
inline LoggedTry inventedTry(unsigned seed, int number) {
    std::mt19937 random(seed * 7919u + static_cast<unsigned>(number));
    const auto whole = [&](int from, int to) { return std::uniform_int_distribution(from, to)(random); };
    const auto real = [&] { return std::uniform_real_distribution(-3000.0, 3000.0)(random); };
    const auto maybe = [&](auto& field) {
        if (whole(0, 1) == 1)
            field.emplace(static_cast<typename std::remove_reference_t<decltype(field)>::value_type>(real()));
    };
    const char* words[] = {"Half up",
                           "Half here, whole there",
                           "she said \"22 under\"",
                           "two\r\nlines",
                           "'); DROP TABLE try;--",
                           " spaces ",
                           "ends with a comma,",
                           "♭3 – näher",
                           "",
                           "tab\tand | bar"};
    const auto word = [&] { return std::string(words[whole(0, 9)]); };

    LoggedTry one;
    one.number = number;
    one.at = CalendarTime(std::chrono::milliseconds(1'800'000'000'000 + whole(0, 1'000'000'000)));
    one.drill = word();
    one.aim = Cents(real());
    one.guided = whole(0, 1) == 1;
    one.struck = whole(0, 1) == 1;
    one.takeFile = word();
    Landing& landing = one.landing;
    landing.moveNumber = whole(1, 100);
    landing.move.gesture = static_cast<Gesture>(whole(0, 5));
    landing.move.from = MidiPitch(real());
    landing.move.to = MidiPitch(real());
    if (whole(0, 1) == 1) landing.move.place = NeckPlace{whole(1, 9), whole(0, 24)};
    if (whole(0, 1) == 1) landing.move.targetFret = whole(0, 24);
    landing.target = static_cast<Target>(whole(0, 2));
    landing.verdict = static_cast<Verdict>(whole(0, 9));
    landing.sentence = word();
    landing.onset = Seconds(real());
    landing.end = Seconds(real());
    maybe(landing.landingTime);
    maybe(landing.landingError);
    maybe(landing.firstStopError);
    maybe(landing.sd);
    maybe(landing.startError);
    maybe(landing.riseTime);
    maybe(landing.correction);
    maybe(landing.overshoot);
    maybe(landing.holdSpread);
    maybe(landing.sag);
    maybe(landing.holdLength);
    maybe(landing.linger);
    if (whole(0, 1) == 1) landing.landedFret = whole(0, 24);
    maybe(landing.levelKept);
    if (whole(0, 1) == 1)
        landing.vibrato =
            VibratoReading{Hertz(real()), Cents(real()), Cents(real()), Cents(real()), Cents(real()), real()};
    if (whole(0, 1) == 1) one.guess = static_cast<Guess>(whole(0, 2));
    if (whole(0, 1) == 1) one.told = static_cast<ToldWhen>(whole(0, 2));
    if (whole(0, 1) == 1) one.pass = whole(1, 100);
    maybe(one.targetCents);
    maybe(one.level);
    if (whole(0, 2) == 0) {
        for (int other = whole(1, 2); other > 0; --other) {
            Move move = landing.move;
            move.with.clear();
            move.gesture = whole(0, 1) == 1 ? Gesture::note : landing.move.gesture;
            move.from = MidiPitch(real());
            move.to = MidiPitch(real());
            move.place = NeckPlace{whole(1, 9), whole(0, 24)};
            landing.move.with.push_back(move);
        }
        std::stable_sort(landing.move.with.begin(), landing.move.with.end(),
                         [](const Move& a, const Move& b) { return a.from < b.from; });
        landing.strings.resize(landing.move.with.size() + 1);
        for (StringLanding& string : landing.strings) {
            string.heard = whole(0, 1) == 1 ? StringHeard::yes : StringHeard::no;
            for (auto* value : {&string.landingError, &string.firstStopError, &string.sd, &string.interval,
                                &string.pureInterval, &string.dragged})
                maybe(*value);
        }
    }
    maybe(landing.beat);
    maybe(one.tempo);
    maybe(one.askedTempo);
    maybe(one.beat);
    maybe(one.timing);
    if (whole(0, 1) == 1) one.stroke = static_cast<StrokeKind>(whole(0, 3));
    maybe(one.brightness);
    // The logs of older schemas hold tries of the first seed.
    if (seed != 1 && !one.landing.strings.empty()) {
        one.landing.strings.back().heard = StringHeard::notSure;
        one.landing.strings.back().late = Seconds(0.147);
    }
    return one;
}

// Field by field, the doubles bit for bit.
inline bool same(const LoggedTry& a, const LoggedTry& b) {
    const Landing &p = a.landing, &q = b.landing;
    const auto samePlace = [](const std::optional<NeckPlace>& one, const std::optional<NeckPlace>& other) {
        return one.has_value() == other.has_value()
               && (!one || (one->string == other->string && one->fret == other->fret));
    };
    const auto sameVibrato = [](const std::optional<VibratoReading>& one, const std::optional<VibratoReading>& other) {
        return one.has_value() == other.has_value()
               && (!one
                   || (one->rate == other->rate && one->width == other->width && one->bottom == other->bottom
                       && one->top == other->top && one->centre == other->centre && one->evenness == other->evenness));
    };
    return a.number == b.number && a.at == b.at && a.drill == b.drill && a.aim == b.aim && a.guided == b.guided
           && a.struck == b.struck && a.takeFile == b.takeFile && a.guess == b.guess && a.told == b.told
           && a.pass == b.pass && a.targetCents == b.targetCents && a.level == b.level && a.tempo == b.tempo
           && a.askedTempo == b.askedTempo && a.beat == b.beat && a.timing == b.timing && a.stroke == b.stroke
           && a.brightness == b.brightness && p.moveNumber == q.moveNumber && p.move.gesture == q.move.gesture
           && p.move.from == q.move.from && p.move.to == q.move.to && samePlace(p.move.place, q.move.place)
           && p.move.targetFret == q.move.targetFret && p.target == q.target && p.verdict == q.verdict
           && p.sentence == q.sentence && p.onset == q.onset && p.end == q.end && p.landingTime == q.landingTime
           && p.landingError == q.landingError && p.firstStopError == q.firstStopError && p.sd == q.sd
           && p.startError == q.startError && p.riseTime == q.riseTime && p.correction == q.correction
           && p.overshoot == q.overshoot && p.holdSpread == q.holdSpread && p.sag == q.sag
           && p.holdLength == q.holdLength && p.linger == q.linger && p.landedFret == q.landedFret
           && p.levelKept == q.levelKept && sameVibrato(p.vibrato, q.vibrato) && p.move.with == q.move.with
           && p.strings == q.strings && p.beat == q.beat;
}

}  // namespace landfall
