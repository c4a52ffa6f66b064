// Months of practice of one invented student in a log: bends at some places, each with its own bias, a cold start, tries
// that die, slides. Seeded.
#pragma once

#include <cmath>
#include <random>
#include <vector>

#include "src/formats/drill_file.h"
#include "src/store/log.h"
#include "src/store/try_curve.h"

namespace landfall {

// The curve of a bend that goes from `from` to `error` in a third of a second, and stays there with a small swing.
inline TryCurve inventedCurve(double from, double error, bool dies) {
    TryCurve curve;
    for (int i = 0; i < 220; ++i) {
        const double t = i / 100.0, way = std::min(1.0, std::max(0.0, (t - 0.15) / 0.35));
        const double smooth = way * way * (3.0 - 2.0 * way);
        curve.push_back({Seconds(t), Cents(from + (error - from) * smooth + 1.5 * std::sin(9.0 * t))});
        if (dies && t > 0.35) curve.back().fromTarget.reset();
    }
    return curve;
}

inline LoggedTry practisedTry(int number, CalendarTime at, NeckPlace place, Gesture gesture, double error, bool dies,
                              bool withCurve) {
    const Guitar guitar;
    LoggedTry one;
    one.number = number;
    one.at = at;
    Landing& landing = one.landing;
    const MidiPitch fretted = pitchAt(guitar, place);
    landing.move.gesture = gesture;
    landing.move.place = place;
    const double width = place.string == 3 ? 200.0 : gesture == Gesture::slide ? 1200.0 : 100.0;
    landing.move.from = fretted;
    landing.move.to = fretted + Cents(width);
    landing.onset = Seconds(number * 6.0);
    landing.end = landing.onset + Seconds(2.2);
    if (gesture == Gesture::slide) landing.move.targetFret = place.fret + 12;
    one.told = ToldWhen::after;
    one.pass = number;
    one.targetCents = Cents(100.0 * landing.move.to.value);
    one.level = Decibels(-18.0);
    if (withCurve) one.curve = packCurve(inventedCurve(-width, error, dies));
    if (dies) {
        landing.verdict = Verdict::died;
        landing.sentence = "Died before arriving.";
        return one;
    }
    landing.landingTime = landing.onset + Seconds(0.5);
    landing.firstStopError = landing.landingError = Cents(error);
    landing.sd = Cents(0.6);
    landing.startError = Cents(-1.5);
    landing.riseTime = Seconds(0.35);
    landing.holdSpread = Cents(1.4);
    landing.holdLength = Seconds(1.7);
    if (landing.move.targetFret) landing.landedFret = landing.move.targetFret;
    const double off = std::abs(error);
    landing.verdict = off <= 5.0    ? Verdict::deadOn
                      : off <= 10.0 ? Verdict::inTune
                      : off <= 25.0 ? Verdict::near
                      : error < 0.0 ? Verdict::under
                                    : Verdict::over;
    landing.sentence = std::to_string(std::lround(off)) + (error < 0.0 ? " under." : " over.");
    return one;
}

// `sittings` of `tries` each, one a day from `first` on.
inline Result<void> inventPractice(Log& log, const std::string& student, CalendarTime first, int sittings, int tries,
                                   unsigned seed, double spread = 10.0, bool withCurves = true) {
    std::mt19937 random(seed);
    std::student_t_distribution<double> noise(4.0);
    std::normal_distribution<double> ofDay(0.0, 3.0);
    std::uniform_real_distribution<double> chance(0.0, 1.0);
    const std::vector<NeckPlace> places{{2, 8}, {2, 9}, {2, 10}, {3, 7}, {3, 9}, {2, 5}};
    const auto half = std::make_shared<const Task>(taskOf(builtInDrills()[0]));
    const auto whole = std::make_shared<const Task>(taskOf(builtInDrills()[2]));
    for (int day = 0; day < sittings; ++day) {
        Sitting sitting;
        sitting.student = student;
        sitting.software = "0.1.0";
        sitting.input = "simulated";
        sitting.started = first + std::chrono::hours(24 * day);
        sitting.token = static_cast<std::int64_t>(seed) * 1'000'000 + day + 1;
        const double offset = ofDay(random);
        std::vector<LoggedTry> rows;
        for (int i = 0; i < tries; ++i) {
            const NeckPlace place = places[static_cast<std::size_t>(i / 6 + day) % places.size()];
            const bool slides = i % 12 == 11;
            const double bias = place.string == 3 ? -14.0 : place.fret == 9 ? 9.0 : 0.0;
            const double error = bias + offset - 9.0 * std::exp(-i / 5.0) + spread * noise(random);
            rows.push_back(practisedTry(i + 1, sitting.started + std::chrono::seconds(7 * i), place,
                                        slides ? Gesture::slide : Gesture::bend, slides ? 2.0 : error,
                                        chance(random) < 0.05, withCurves));
            rows.back().task = place.string == 3 ? whole : half;
            rows.back().drill = rows.back().task->name;
        }
        if (auto put = log.putAll(sitting, rows); !put) return put;
    }
    return {};
}

}  // namespace landfall
