#include "src/practice/beside.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace landfall {

namespace {

constexpr double shortest = 0.1;                         // s of a hold
constexpr double sameNote = 0.7;                         // semitones
constexpr double asLoud = 0.25;                          // of all that sounds: picked alike
constexpr double eachLeast = 0.126;                      // -9 dB of both: struck together
constexpr double struckFrom = 0.05, struckUntil = 0.25;  // s after the stroke
constexpr double riseFrom = 0.12, riseUntil = 0.02;      // s before it
constexpr double riseLeast = 4.0;                        // times the power: less is what rings on, or a room
constexpr double movedShare = 0.6, standsWithin = 40.0;  // of the way; cents
constexpr int movedFrames = 16;                          // a tenth of a second
// What an echo or a room gives back: a pitch that sounded this long ago. Two strings picked together do not wait.
constexpr double echoLatest = 2.5, echoSoonest = 0.06, echoAgrees = 40.0;  // s, s, cents
// s, cents: a way goes over a fret at most in one frame; a fast one is heard here and there
constexpr double twoFrames = 0.009, widestStep = 150.0, wayLost = 0.1, widestStride = 700.0;
constexpr int echoFrames = 4;  // of the past

}  // namespace

void BesideEar::heard(const PitchFrame& frame, double stroke) {
    sounded.push_back({frame.centre.value, 100.0 * pitchOf(*frame.pitch, reference).value, stroke});
}

void BesideEar::forget(double before) {
    while (!sounded.empty() && sounded.front().time < before) sounded.pop_front();
    struck.erase(struck.begin(), struck.lower_bound({before, 0.0}));
}

// What is left of an echo beside the note may show a half or a third of its pitch only.
bool BesideEar::hasSounded(double stroke, double time, double cents) const {
    const auto from = std::ranges::lower_bound(sounded, time - echoLatest, {}, &Sounded::time);
    for (const double multiple : {1.0, 2.0, 3.0}) {
        const double echoed = cents + 1200.0 * std::log2(multiple);
        int alike = 0;
        for (auto each = from; each != sounded.end() && each->time < time - echoSoonest; ++each) {
            if (each->note < stroke && std::abs(each->cents - echoed) < echoAgrees) ++alike;
            if (each == from || each->note != (each - 1)->note || each->time > (each - 1)->time + wayLost) continue;
            const auto [low, high] = std::minmax((each - 1)->cents, each->cents);
            const double widest = each->time - (each - 1)->time < twoFrames ? widestStep : widestStride;
            if (high - low < widest && low < echoed && echoed < high) alike += echoFrames;
        }
        if (alike >= echoFrames) return true;
    }
    return false;
}

std::optional<BesideEar::Other> BesideEar::atHold(double stroke, double begin, double end, MidiPitch known,
                                                  MidiPitch from) const {
    if (end - begin < shortest) return std::nullopt;
    const auto pair = tracker.beside(kept.all(), begin, end, frequencyOf(known, reference));
    if (!pair) return std::nullopt;
    const MidiPitch note = pitchOf(pair->other.pitch, reference);
    // what a room keeps of the note that was left is no second string
    if (std::abs(note.value - from.value) < sameNote || hasSounded(stroke, begin, 100.0 * note.value)
        || !rose(stroke, begin, end, pair->other.pitch))
        return std::nullopt;
    const double all = (pair->known.power + pair->other.power) / (1.0 - pair->residual);
    return Other{note, pair->other.power > asLoud * all};
}

// What is not louder then than before the stroke rang on, was kept by a room, or is no string: a fan's blades.
bool BesideEar::rose(double stroke, double from, double to, Hertz pitch) const {
    return tracker.powerOf(kept.all(), from, to, pitch)
           > riseLeast * tracker.powerOf(kept.all(), stroke - riseFrom, stroke - riseUntil, pitch);
}

std::optional<MidiPitch> BesideEar::atStroke(double stroke, MidiPitch asked) const {
    if (kept.end() < stroke + struckUntil) return std::nullopt;
    const auto [entry, isNew] = struck.try_emplace({stroke, asked.value});
    if (!isNew) return entry->second;
    const auto pair =
        tracker.beside(kept.all(), stroke + struckFrom, stroke + struckUntil, frequencyOf(asked, reference));
    if (!pair) return entry->second;
    const double both = pair->known.power + pair->other.power;
    if (std::min(pair->known.power, pair->other.power) > eachLeast * both
        && rose(stroke, stroke + struckFrom, stroke + struckFrom + (riseFrom - riseUntil), pair->known.pitch))
        entry->second = pitchOf(pair->other.pitch, reference);
    return entry->second;
}

bool BesideEar::moved(double stroke, double until, const Move& asked, MidiPitch other) const {
    if (asked.struckNote() == asked.to) return true;
    const auto stop = [&](MidiPitch note) {
        return VoiceTracker::Stop{{frequencyOf(note, reference), frequencyOf(other, reference)},
                                  asked.gesture == Gesture::slide && note == asked.to};
    };
    const std::array stops{stop(asked.struckNote()), stop(asked.to)};
    const auto frames = tracker.follow(kept.all(), stroke, std::min(until, kept.end()), stops);
    const double way = 100.0 * (asked.to.value - asked.struckNote().value);
    const auto there = std::ranges::count_if(frames, [&](const VoiceTracker::Frame& frame) {
        return interval(frames.front().voices[0].pitch, frame.voices[0].pitch).value / way > movedShare
               && abs(interval(frames.front().voices[1].pitch, frame.voices[1].pitch)).value < standsWithin;
    });
    return there >= movedFrames;
}

}  // namespace landfall
