// A student who plays around a drill for minutes: runs, other bends and slides, open strings, and now and then the bend
// that is asked. One thread.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <span>
#include <vector>

#include "src/audio/simulated_player.h"
#include "src/practice/listener.h"
#include "tests/support/student_takes.h"
#include "tests/support/students.h"

namespace landfall {

struct NoodledAround {
    int real = 0, found = 0;  // tries at the drill; those marked within 3 cents of what was played
    std::vector<Landing> falseTries;
    int notMarked = 0;  // notes that were told from tries
};

inline NoodledAround noodleAround(std::uint32_t seed, Seconds atLeast) {
    constexpr double sampleRate = 48000.0;
    SimulatedPlayer::Config student;
    student.sampleRate = sampleRate;
    student.seed = seed;
    student.skill = noor();
    student.skill.diedChance = student.skill.wrongFretChance = student.skill.otherIntervalChance =
        student.skill.doubleStrokeChance = 0.0;
    SimulatedPlayer player(student);
    const auto elsewhere = [&player](Gesture gesture, NeckPlace place, int frets) {
        player.play(moveAt(gesture, place, 0, frets), {.played = Played::landed});
    };
    const Move asked = moveAt(Gesture::bend, {2, 8}, 0, 2);
    Listener listener({.sampleRate = sampleRate});
    listener.setMoves({asked}, MoveOrder::everyTry);

    NoodledAround all;
    std::vector<std::size_t> real;
    std::vector<Landing> marked;
    const auto keep = [&](std::span<const ListenerEvent> events) {
        for (const ListenerEvent& event : events) {
            if (const auto* one = std::get_if<TryEnded>(&event)) marked.push_back(one->landing);
            all.notMarked += std::holds_alternative<Noodling>(event);
        }
    };
    std::vector<float> block(4800);
    double queued = 0.0;
    for (int round = 0; queued < atLeast.value; ++round) {
        switch (round % 6) {
            // runs, hints of bends and muted strokes on the asked fret and beside it
            case 0: player.noodle(Seconds(25.0), {2, 8}); break;
            case 1:  // bends to other targets
                for (const int fret : {10, 7, 5}) elsewhere(Gesture::bend, {2, fret}, 2);
                elsewhere(Gesture::bend, {3, 9}, 1);
                elsewhere(Gesture::bend, {1, 8}, 2);
                break;
            case 2:
                for (int string = 1; string <= 6; ++string) player.playOpenString(string);
                break;
            case 3: player.noodle(Seconds(25.0), {3, 12}); break;  // runs around the same pitch on another string
            case 4:                                                // slides over and past the asked notes
                elsewhere(Gesture::slide, {2, 5}, 5);
                elsewhere(Gesture::slide, {2, 10}, -2);
                elsewhere(Gesture::slide, {3, 7}, 5);
                elsewhere(Gesture::slide, {4, 5}, 12);
                break;
            case 5: player.noodle(Seconds(25.0), {5, 3}); break;  // runs low on the neck
        }
        player.rest(Seconds(0.8));
        if (round % 2 == 1) {
            player.play(asked, {.firstStopError = Cents(-12.0), .played = Played::landed});
            real.push_back(player.truths().size() - 1);
            player.rest(Seconds(0.8));
        }
        queued += player.queued().value;
        for (double left = player.queued().value; left > 0.0; left -= static_cast<double>(block.size()) / sampleRate) {
            player.read(block);
            keep(listener.process(block));
        }
    }
    keep(listener.finish());
    all.real = static_cast<int>(real.size());
    for (const Landing& landing : marked) {
        const bool played = std::any_of(real.begin(), real.end(), [&](std::size_t i) {
            const MoveTruth& truth = player.truths()[i];
            return std::abs(landing.onset.value - truth.onset.value) < 0.1 && landing.firstStopError
                   && std::abs(landing.firstStopError->value - truth.firstStopError->value) < 3.0;
        });
        all.found += played;
        if (!played) all.falseTries.push_back(landing);
    }
    return all;
}

}  // namespace landfall
