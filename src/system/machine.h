// Where the program and its folders are on this machine, and whether a person sits at the terminal. Any thread.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "src/system/result.h"

namespace landfall {

// Made if it is not there yet. XDG Base Directory Specification 0.8: $XDG_CONFIG_HOME/landfall, else ~/.config/landfall.
Result<std::filesystem::path> settingsFolder();
// $XDG_DATA_HOME/landfall, else ~/.local/share/landfall.
Result<std::filesystem::path> dataFolder();

// The file this program runs from.
Result<std::filesystem::path> ownProgram();

bool inputIsTerminal();
bool outputIsTerminal();

// A line that was typed (or piped in), without its end; empty where none is complete yet or the input is over. Never waits. One thread.
std::optional<std::string> typedLine();
bool typingOver();  // its input is over: nothing more will come

}  // namespace landfall
