// Tries of the simulated student heard through an effect, beside what was really played. Plain functions; for the bench
// and its short test.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "dsp/pitch_tracker.h"
#include "dsp/quantise.h"
#include "src/audio/simulated_player.h"
#include "src/practice/listener.h"
#include "tests/support/effects.h"
#include "tests/support/student_takes.h"
#include "tests/support/students.h"

namespace landfall {

struct HeardThrough {
    int sounding = 0, heard = 0;         // settled frames where the string sounds and comes through
    std::vector<double> frameErrors;     // cents, sizes
    int tooSure = 0;                     // frames more than 10 cents off that claim a standard deviation under 2
    int tries = 0, found = 0, held = 0;  // landings found; whose 90 % interval holds the truth
    std::vector<double> errors;          // of landings, cents, sizes
    int twoStrings = 0;                  // a second one named
    int extra = 0;                       // marked without a try: an echo taken for one

    void add(const HeardThrough& other) {
        sounding += other.sounding, heard += other.heard, tooSure += other.tooSure;
        tries += other.tries, found += other.found, held += other.held, twoStrings += other.twoStrings,
            extra += other.extra;
        frameErrors.insert(frameErrors.end(), other.frameErrors.begin(), other.frameErrors.end());
        errors.insert(errors.end(), other.errors.begin(), other.errors.end());
    }
};

// One player, one move again and again.
struct EffectTake {
    std::string name;
    std::vector<Move> steps;
    PlayerWish wish{};
    double error = 14.0;         // spread of the errors played, cents
    double vibratoWidth = 32.0;  // cents
};

inline std::vector<EffectTake> effectTakes() {
    using enum Gesture;
    const auto slid = [](NeckPlace place, int frets) { return std::vector{moveAt(slide, place, 0, frets)}; };
    return {
        {"full step", {moveAt(bend, {2, 8}, 0, 2)}},
        {"half step", {moveAt(bend, {3, 7}, 0, 1)}},
        {"half step, low", {moveAt(bend, {5, 5}, 0, 1)}},
        {"bend and release", {moveAt(bend, {2, 10}, 0, 2), moveAt(release, {2, 10}, 2, 0)}, {}, 6.0},
        {"pre-bend", {moveAt(preBend, {3, 9}, 0, 2)}},
        {"slide, two frets", slid({4, 5}, 2), {}, 2.0},
        {"slide, octave", slid({5, 3}, 12), {}, 2.0},
        {"note", {moveAt(note, {6, 3}, 0, 0)}, {}, 4.0},
        {"wide vibrato", {moveAt(vibrato, {3, 7}, 0, 0)}, {}, 4.0, 80.0},
        {"full step, then vibrato", {moveAt(bend, {1, 8}, 0, 2)}, {.hold = Seconds(1.8), .vibrato = true}},
    };
}

struct PlayedTake {
    PitchedSound sound;
    std::vector<MoveTruth> truths;
};

inline PlayedTake playedTake(const EffectTake& take, int tries, std::uint32_t seed) {
    SimulatedPlayer::Config student;
    student.sampleRate = effectRate;
    student.seed = seed;
    student.skill = noor();  // a steady hand
    student.skill.correctionChance = student.skill.overshootChance = student.skill.wrongFretChance =
        student.skill.otherIntervalChance = 0.0;
    student.skill.diedChance = student.skill.doubleStrokeChance = 0.0;
    student.skill.vibratoWidth = Cents(take.vibratoWidth);
    SimulatedPlayer player(student);
    Knobs draw(seed + 1000);
    player.rest(Seconds(0.6));
    for (int i = 0; i < tries; ++i) {
        PlayerWish wish = take.wish;
        wish.played = Played::landed;
        wish.firstStopError = Cents(take.error * (draw.between(-1, 1) + draw.between(-1, 1) + draw.between(-1, 1)));
        player.play(take.steps, wish);
        player.rest(Seconds(0.8));
    }
    PlayedTake played;
    std::array<float, 48> block{};
    const auto blocks = static_cast<int>(1000.0 * (player.queued().value + 0.5));
    for (int i = 0; i < blocks; ++i) {
        player.read(block);
        played.sound.samples.insert(played.sound.samples.end(), block.begin(), block.end());
        const auto pitch = player.firstPartialAt(Seconds(0.001 * i));
        played.sound.hertz.push_back(pitch ? pitch->value : 0.0);
    }
    played.truths = player.truths();
    return played;
}

// Settled frames against the string that sounds: from 30 ms after a stroke to 60 ms before the hand has silenced it,
// where what comes out is above -60 dBFS (a gate may be shut).
inline void hearFrames(const PitchedSound& sound, const std::vector<MoveTruth>& truths, HeardThrough& all) {
    PitchTracker tracker({});
    for (std::size_t at = 0; at < sound.samples.size(); at += 480) {
        const auto block = std::span(sound.samples).subspan(at, std::min<std::size_t>(480, sound.samples.size() - at));
        for (const PitchFrame& frame : tracker.process(block).settled) {
            const auto moment = static_cast<std::size_t>(1000.0 * frame.centre.value);
            if (moment + 60 >= sound.hertz.size() || sound.hertz[moment] <= 0.0 || sound.hertz[moment + 60] <= 0.0)
                continue;
            if (std::any_of(truths.begin(), truths.end(), [&](const MoveTruth& truth) {
                    return std::abs(frame.centre.value - truth.onset.value - 0.0135) < 0.0165;
                }))
                continue;
            double power = 0.0;
            const std::size_t first = moment * 48 >= 240 ? moment * 48 - 240 : 0,
                              last = std::min(first + 480, sound.samples.size());
            for (std::size_t n = first; n < last; ++n)
                power += static_cast<double>(sound.samples[n]) * static_cast<double>(sound.samples[n]);
            if (power / 480.0 < 1e-6) continue;
            ++all.sounding;
            if (!frame.pitch) continue;
            ++all.heard;
            const double error = std::abs(interval(Hertz(sound.hertz[moment]), *frame.pitch).value);
            all.frameErrors.push_back(error);
            all.tooSure += error > 10.0 && frame.sd.value < 2.0;
        }
    }
}

inline void hearLandings(const PitchedSound& sound, const std::vector<MoveTruth>& truths,
                         const std::vector<Move>& steps, HeardThrough& all) {
    Listener listener({.sampleRate = effectRate});
    listener.setMoves(steps, MoveOrder::everyTry);
    std::vector<Landing> said;
    const auto keep = [&said](std::span<const ListenerEvent> events) {
        for (const ListenerEvent& event : events)
            if (const auto* ended = std::get_if<TryEnded>(&event)) said.push_back(ended->landing);
    };
    for (std::size_t at = 0; at < sound.samples.size(); at += 480)
        keep(listener.process(
            std::span(sound.samples).subspan(at, std::min<std::size_t>(480, sound.samples.size() - at))));
    keep(listener.finish());
    all.tries += static_cast<int>(truths.size());
    for (const Landing& landing : said) {
        const auto truth = std::find_if(truths.begin(), truths.end(), [&](const MoveTruth& one) {
            return landing.onset.value > one.onset.value - 0.1 && landing.onset.value < one.onset.value + 0.2
                   && landing.moveNumber == one.moveNumber;
        });
        if (truth == truths.end()) {
            ++all.extra;
            continue;
        }
        all.twoStrings += landing.beside.has_value();
        if (!landing.landingError) continue;
        ++all.found;
        // Of a vibrato on a fretted note its bottom is marked.
        const bool shaken = truth->move.gesture == Gesture::vibrato;
        const double error = shaken ? std::abs(landing.firstStopError->value - truth->vibrato->bottom.value)
                                    : std::abs(landing.landingError->value - truth->landingError->value);
        all.errors.push_back(error);
        all.held += landing.sd && error <= 1.645 * landing.sd->value;
    }
}

// What is told of effects while this is heard.
inline std::vector<EffectHeard> effectsToldOf(std::vector<float> samples) {
    quantise(samples);
    Listener listener({.sampleRate = effectRate});
    std::vector<EffectHeard> told;
    for (const ListenerEvent& event : listener.process(samples))
        if (const auto* heard = std::get_if<EffectHeard>(&event)) told.push_back(*heard);
    return told;
}

// `tries` tries of a take through the effect, knobs and hands drawn from the seed.
inline HeardThrough hearThrough(const Effect& effect, const EffectTake& take, int tries, std::uint32_t seed) {
    const PlayedTake played = playedTake(take, tries, seed);
    PitchedSound sound = through(effect, played.sound, seed);
    quantise(sound.samples);
    std::vector<Move> asked = take.steps;
    if (effect.semitones != 0)
        for (Move& move : asked)
            move = {move.gesture,
                    MidiPitch(move.from.value + effect.semitones),
                    MidiPitch(move.to.value + effect.semitones),
                    {},
                    {}};
    HeardThrough all;
    hearFrames(sound, played.truths, all);
    hearLandings(sound, played.truths, asked, all);
    return all;
}

}  // namespace landfall
