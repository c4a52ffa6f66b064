// Finds the asked moves in what is played: sound into notes, notes into tries by the maker that the order asks for.
// Times count from the first sample heard. One thread, the analysis thread.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "src/practice/chord_try.h"
#include "src/practice/repeated_try.h"

namespace landfall {

struct FollowerConfig {
    NoteListenerConfig notes;
    Target target = Target::concert;
    OwnFrets ownFrets{};
    MoveFinderConfig find;
    RepeatedTryConfig tries;
    ChordTryConfig chords;
    double sampleRate = 48000.0;  // 16 to 192 kHz
    // s from frame to frame of several strings: half as many as in a recording, at two thirds of the cost
    double hop = 0.012;
    double remembered = 20.0;  // s of sound that are kept, of a recording all: longer than a try
};

class MoveFollower {
public:
    MoveFollower(const FollowerConfig& given, std::vector<ListenerEvent>& sink);

    void setMoves(std::vector<Move> moves, MoveOrder order);
    void onset(const Onset& onset) { notes.onset(onset); }
    void grew(const Growth& sound) { notes.grew(sound); }
    void settled(const PitchFrame& frame);
    void provisional(const PitchFrame& frame) { notes.provisional(frame); }
    void finish();
    void sound(std::span<const float> samples);
    void ownSoundUntil(Seconds time) { notes.ownSoundUntil(time.value); }
    // Strikes every step of the try that sounds, else of the last one; its number.
    std::optional<int> discardLast() { return maker->discardLast(); }
    // The target of the move asked now, for the eye.
    std::optional<Cents> fromTarget(Hertz pitch) const;
    const OwnFrets& ownFrets() const { return finder.targets.ownFrets(); }
    std::optional<Move> lackingTarget() const { return finder.lackingTarget(); }
    bool asksSeveral() const { return several; }                       // strings at once
    int asked() const { return static_cast<int>(maker->next()) + 1; }  // the number of the move asked now

private:
    void make();
    bool severalAsked() const { return !finder.moves.empty() && !finder.moves.front().with.empty(); }

    FollowerConfig config;
    std::vector<ListenerEvent>& events;
    MoveOrder order = MoveOrder::everyTry;
    bool several = false;  // moves of several strings are asked
    KeptSound heard;
    VoiceTracker voices;
    BesideEar beside;
    NoteListener notes;
    MoveFinder finder;
    std::unique_ptr<TryMaker> maker;
};

}  // namespace landfall
