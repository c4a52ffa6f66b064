#include "src/practice/string_stiffness.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "dsp/statistics.h"

namespace landfall {

namespace {

// A sure frame: the fit saw B to a tenth, the pitch to 2 cents, and no second note beside it.
constexpr double surelyWithin = 0.1;
constexpr double surePitch = 2.0;      // cents
constexpr double soundsAlone = -20.0;  // dB
constexpr double framesKept = 15.0;    // seconds; a try is over 3 s after it landed
// A clear note: an eighth of a second of sure frames after the pick's own noise, within the start note's place. Between
// the tenth and the ninth tenth of them B spreads by 0.1 % on a clean string, by 10 to 20 % on recorded ones, by 30 to
// 500 % with gain, under which it means nothing.
constexpr double settles = 0.08;     // seconds
constexpr double atItsPlace = 35.0;  // cents
constexpr std::size_t framesAsked = 25;
constexpr double spreadAllowed = 0.25;
// A string is learned when three notes agree. What was known before weighs as much as two, so that other strings
// replace it after three notes.
constexpr std::size_t notesAsked = 3;
constexpr std::size_t notesKept = 9;
constexpr double notesAgree = 0.15;  // median distance from the median
constexpr double leastStiffness = 1e-6, mostStiffness = 2e-3;

double shortened(double fret) { return std::exp2(fret / 6.0); }  // 1 / L²

}  // namespace

StringStiffness::StringStiffness(Config given) : config(std::move(given)) {}

void StringStiffness::settled(const PitchFrame& frame) {
    while (!frames.empty() && frames.front().time < frame.centre.value - framesKept) frames.pop_front();
    const bool sure = frame.pitch && frame.inharmonicitySd > 0.0
                      && frame.inharmonicitySd <= surelyWithin * frame.inharmonicity && frame.sd.value <= surePitch
                      && frame.otherNote.value <= soundsAlone;
    if (sure) frames.push_back({frame.centre.value, frame.pitch->value, frame.inharmonicity});
}

void StringStiffness::tryEnded(const Landing& landing) {
    const Move& move = landing.move;
    if (!move.place || move.place->string < 1 || move.gesture == Gesture::release
        || landing.verdict == Verdict::twoStrings || landing.verdict == Verdict::wrongFret)
        return;
    const Hertz fretted = frequencyOf(move.from, config.a4);
    std::vector<double> heard;
    for (const Heard& frame : frames) {
        if (frame.time < landing.onset.value + settles || frame.time > landing.end.value) continue;
        const double ratio = frame.hertz / fretted.value;
        if (std::abs(interval(fretted, Hertz(frame.hertz)).value) > atItsPlace) continue;
        heard.push_back(frame.stiffness * ratio * ratio / shortened(move.place->fret + config.capo));
    }
    if (heard.size() < framesAsked) return;
    std::sort(heard.begin(), heard.end());
    const double middle = heard[heard.size() / 2];
    if (heard[heard.size() * 9 / 10] - heard[heard.size() / 10] > spreadAllowed * middle || middle < leastStiffness
        || middle > mostStiffness)
        return;
    const auto string = static_cast<std::size_t>(move.place->string - 1);
    if (learned.size() <= string) learned.resize(string + 1);
    learned[string].push_back(middle);
    if (learned[string].size() > notesKept) learned[string].pop_front();
}

double StringStiffness::known(std::size_t string) const {
    const double before = string < config.known.size() ? config.known[string] : 0.0;
    if (string >= learned.size() || learned[string].size() < notesAsked) return before;
    std::vector<double> values(learned[string].begin(), learned[string].end());
    const double now = median(values);
    if (medianDeviation(values, now) > notesAgree * now) return before;
    if (before > 0.0) values.insert(values.end(), 2, before);
    return median(values);
}

std::optional<double> StringStiffness::at(NeckPlace place) const {
    if (place.string < 1) return {};
    const double open = known(static_cast<std::size_t>(place.string - 1));
    return open > 0.0 ? std::optional(open * shortened(place.fret + config.capo)) : std::nullopt;
}

std::vector<double> StringStiffness::openStrings() const {
    std::vector<double> strings(std::max(learned.size(), config.known.size()));
    for (std::size_t string = 0; string < strings.size(); ++string) strings[string] = known(string);
    while (strings.size() > config.known.size() && strings.back() == 0.0) strings.pop_back();
    return strings;
}

}  // namespace landfall
