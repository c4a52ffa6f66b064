// The window's sittings, one after another: which one is being kept, what it has asked of the hands, and what an
// earlier one could not write. No thread of its own: the trainer's.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "src/app/sitting.h"
#include "src/app/sound_source.h"

namespace landfall {

class SittingKeeper {
public:
    // `asked` is the command line's: it wins over `settings`, which must live longer, until another student or log is
    // chosen.
    SittingKeeper(const Settings& settings, SittingWish asked);

    // Another sitting, with this input; the hands go on from what they have done. Where it cannot begin the one before
    // goes on, and trouble() says why. A drill writes into its sitting's log: let it end first.
    Result<void> begin(const SourceWish& input);
    // The same where no try has been played for an hour, and the hands begin anew: what is played then is another
    // sitting.
    void beginAfterPause(const SourceWish& input, CalendarTime now);
    // The same for another student, or another log, than `before`: from now on the settings win where they differ.
    void beginFor(const Settings& before, const SourceWish& input);

    RunningSitting& now() { return *sitting; }
    StoreWriter& log() { return sitting->log(); }
    // Not those of the simulated student, where no log is named for it.
    bool keepsTries() const { return kept; }
    void tried(CalendarTime at) { lastTry = at; }
    SittingLoad load;  // what the hands have done in this go

    const std::string& trouble() const { return said; }
    // Puts everything on the disk, or offers to save it elsewhere. The exit status.
    int end(const std::vector<double>& stiffness);

private:
    const Settings& settings;
    SittingWish asked;
    SimulatedLog simulated;  // before the sittings, which write into it
    std::unique_ptr<RunningSitting> sitting;
    std::vector<std::unique_ptr<RunningSitting>> unsaved;
    CalendarTime lastTry = calendarNow();  // a machine that sleeps stops the other clock
    std::string said;
    bool kept = true;
};

}  // namespace landfall
