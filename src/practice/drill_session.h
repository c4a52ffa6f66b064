// A drill being played: the Listener and the DrillRunner joined, so that what is asked and what is marked are always
// the same. One thread, the analysis thread; its clock is the sound heard.
#pragma once

#include <memory>
#include <span>
#include <string>
#include <vector>

#include "src/practice/drill_runner.h"
#include "src/practice/drill_summary.h"
#include "src/practice/listener.h"
#include "src/system/result.h"

namespace landfall {

class DrillSession {
public:
    struct Config {
        DrillRunnerConfig runner;
        double sampleRate = 48000.0;
        Target target = Target::concert;  // where the drill asks for none
        OwnFrets ownFrets{};
    };

    // Fails where the drill cannot be played on this guitar or by the rules of care.
    static Result<std::unique_ptr<DrillSession>> make(const Config& config);

    // What was heard in these samples, valid until the next call. The runner has seen it already, and what it asks now
    // has taken effect.
    std::span<const ListenerEvent> hear(std::span<const float> samples);
    // The input is over.
    std::span<const ListenerEvent> finish();

    // Some of the sound is missing here: what was being played is no try, and is asked for again.
    void interrupt();

    // Strikes the last try. The landings struck stand in the events of the next call of hear or finish. False: there is
    // none.
    bool discard();
    void next() {
        runner.next(now());
        follow();
    }
    void see() { runner.see(); }
    void ownSound(Seconds length) { listener.ownSound(length); }  // as of Listener
    // What the player says by ear of the last try, or its last step. Empty: there is nothing to guess, or it has been.
    std::optional<Landing> guess(Guess said);
    void stop() {
        runner.stop();
        follow();
    }

    const DrillState& state() const { return runner.state(); }
    // Of every mark since the start that was not struck.
    DrillSummary summary() const { return summarise(marks, drill, aim, guitar); }
    const DrillRunner& plan() const { return runner; }
    // As Guitar::stiffness, with what was learned since.
    std::vector<double> stiffness() const { return listener.stiffness(); }
    // As Config::ownFrets, with what was learned since.
    const OwnFrets& ownFrets() const { return listener.ownFrets(); }
    // As Listener::heard.
    std::vector<HeardPitch> heardBetween(Seconds from, Seconds to) const { return listener.heard(from, to); }
    // What a player should know of the target asked now; mostly nothing.
    std::string targetRemark() const;
    Seconds now() const { return Seconds(static_cast<double>(heard) / sampleRate); }

private:
    DrillSession(DrillRunner planned, const Config& config);
    void take(std::span<const ListenerEvent> fresh);
    void follow(const ListenerEvent& event);
    void answer();
    void follow();

    Drill drill;
    Guitar guitar;
    Cents aim;
    DrillRunner runner;
    Listener listener;
    double sampleRate;
    std::uint64_t heard = 0;  // samples
    std::vector<ListenerEvent> events;
    std::vector<ListenerEvent> due;   // told with the next
    std::vector<Landing> unanswered;  // ended, not yet seen by the runner
    std::vector<DrillMark> marks;
    std::vector<Move> asked;
    // What sounds, or sounded last: a note, its try once that is known (0: none), and whether something of it is still
    // to come.
    struct {
        int note = 0, tryNumber = 0;
        bool open = false;
    } playing;
    bool silent = false;     // digitally: no hand and no string does that
    bool brokenOff = false;  // ... and the last try died with it
};

}  // namespace landfall
