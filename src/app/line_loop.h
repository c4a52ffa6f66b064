// Practises one line in a terminal: sound in, a few words after each pass out, a row of the log for each of its bends
// and slides. One thread, the analysis thread.
#pragma once

#include <functional>
#include <optional>
#include <string>

#include "src/app/line_play.h"

namespace landfall {

// The moves of a line, bar by bar: "bar 1   full step 2/8, note 2/5".
std::string lineTable(const Line& line);

struct LineLoopConfig {
    LinePlay::Config play;
    int mostPasses = 0;      // ends after so many; 0: when the input does
    bool skipWaits = false;  // warm-up and rests are left out: for hands that need none
    bool live = false;       // the input's troubles are said, as they are of a player there
};
// Until the input is over or `word` says "q". Asked for between blocks: a line the player typed.
// Returns the number of passes.
int practiseLine(LineLoopConfig config, SoundSource& source, StoreWriter& log,
                 const std::function<std::optional<std::string>()>& word);

}  // namespace landfall
