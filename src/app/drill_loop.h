// Plays one drill in a terminal: sound in, marks and prompts out, a row of the log for every try. One thread, the
// analysis thread.
#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "src/app/drill_play.h"
#include "src/app/sound_source.h"
#include "src/practice/drill_session.h"
#include "src/store/store_writer.h"

namespace landfall {

struct DrillLoopConfig {
    DrillPlay::Config play;
    int mostTries = 0;       // ends after so many; 0: when the drill is done
    bool skipWaits = false;  // warm-up and rests are left out: for a simulated student, whose hands need none
    bool quiet = false;      // prompts and level lines are left out
    bool live = false;       // the input's troubles are said, as they are of a player there
};

// How long after arrival the marks were there, sound still waiting to be heard included; and what was heard.
struct DrillLoopFindings {
    std::vector<Landing> landings;  // of every try that counted, in the order of the log
    std::vector<double> provisionalMs, finalMs;
    DrillSummary summary;
    SittingLoad load;
    std::vector<double> stiffness;  // of the guitar's strings, as known by then
    bool stopped = false;           // the player asked to end, or the input is over
};

// Asked for between blocks: a line the player typed, or "q" when the program is told to end.
using PlayerWord = std::function<std::optional<std::string>()>;

Result<DrillLoopFindings> playDrill(const DrillLoopConfig& config, SoundSource& source, StoreWriter& log,
                                    const PlayerWord& word);

}  // namespace landfall
