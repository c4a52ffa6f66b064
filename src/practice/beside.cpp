#include "src/practice/beside.h"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "dsp/decimator.h"
#include "dsp/quantise.h"
#include "dsp/voice_tracker.h"
#include "src/music/note_name.h"
#include "src/practice/landing_judge.h"

namespace landfall {

namespace {

constexpr double shortest = 0.1;  // s
constexpr double sameNote = 0.7;  // semitones

}  // namespace

struct BesideListener::State {
    State(double rate, Hertz reference)
        : a4(reference), decimator({.sampleRate = rate}), voices({.sampleRate = decimator.workingRate()}),
          lead(static_cast<double>(decimator.latencySamples()) / rate) {}

    std::optional<MidiPitch> look(Landing& landing) {
        const auto [from, to] = std::pair{JudgeConfig{}.landingFrom, JudgeConfig{}.landingTo};
        const bool landed = landing.landingTime && landing.landingError;
        if (!landed && landing.verdict != Verdict::twoStrings) return std::nullopt;
        // Where two strings hid the landing, the end of what sounded.
        const double begin = landed ? landing.landingTime->value + from : landing.end.value - to;
        const double end =
            std::min(landed ? landing.landingTime->value + to : landing.end.value - from, landing.end.value);
        if (end - begin < shortest) return std::nullopt;
        const Hertz pitch = frequencyOf(landing.move.to + landing.landingError.value_or(Cents(0.0)), a4);
        const auto found = voices.beside(sound, begin + lead, end + lead, pitch);
        if (!found) return std::nullopt;
        const MidiPitch note = pitchOf(*found, a4);
        // what a room keeps of the note that was left is no second string
        if (std::abs(note.value - landing.move.from.value) < sameNote) return std::nullopt;
        landing.sentence.append(" ").append(noteName(MidiPitch(std::round(note.value)))).append(" rang beside it.");
        return note;
    }

    Hertz a4;
    Decimator decimator;
    VoiceTracker voices;
    double lead;
    std::vector<float> sound;
};

BesideListener::BesideListener(double sampleRate, Hertz a4) : state(std::make_unique<State>(sampleRate, a4)) {}
BesideListener::~BesideListener() = default;

void BesideListener::process(std::span<const float> samples) {
    for (const float sample : samples)
        if (const auto lower = state->decimator.push(quantise(sample))) state->sound.push_back(*lower);
}

std::vector<std::optional<MidiPitch>> BesideListener::finish(std::span<Landing> landings) {
    std::vector<std::optional<MidiPitch>> beside;
    for (Landing& landing : landings) beside.push_back(state->look(landing));
    return beside;
}

}  // namespace landfall
