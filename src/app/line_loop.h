// Practises one line in a terminal: sound in, a few words after each pass out, a row of the log for each of its bends
// and slides. One thread, the analysis thread.
#pragma once

#include <functional>
#include <optional>
#include <string>

#include "src/app/sound_source.h"
#include "src/music/line.h"
#include "src/store/store_writer.h"

namespace landfall {

// The moves of a line, bar by bar: "bar 1   full step 2/8, note 2/5".
std::string lineTable(const Line& line);

struct LineLoopConfig {
    Hertz a4 = standardA4;
    Cents aim{25.0};
};
// Until the input is over or `word` says "q". Asked for between blocks: a line the player typed.
// Returns the number of passes.
int practiseLine(const Line& line, const LineLoopConfig& config, SoundSource& source, StoreWriter& log,
                 const std::function<std::optional<std::string>()>& word);

}  // namespace landfall
