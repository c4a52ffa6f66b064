// Where the program and its folders are on this machine, and whether a person sits at the terminal. Any thread.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "src/system/result.h"

namespace landfall {

// Made if it is not there yet. XDG Base Directory Specification 0.8: $XDG_CONFIG_HOME/landfall, else
// ~/.config/landfall.
Result<std::filesystem::path> settingsFolder();
// $XDG_DATA_HOME/landfall, else ~/.local/share/landfall.
Result<std::filesystem::path> dataFolder();

// A new, empty one of this user alone, among the temporary files ($TMPDIR, else /tmp).
Result<std::filesystem::path> newTemporaryFolder();

// The file this program runs from.
Result<std::filesystem::path> ownProgram();

bool inputIsTerminal();

// While one of these lives, what is written to this process's standard error is dropped: for libraries that print there
// and cannot be asked not to. Any thread; several may live at once. What another thread says there meanwhile is lost
// too, so keep it around the one call.
class QuietErrors {
public:
    QuietErrors();
    ~QuietErrors();
    QuietErrors(const QuietErrors&) = delete;
    QuietErrors& operator=(const QuietErrors&) = delete;
};

// From now on a write of the calling thread to a connection whose other end is gone fails, in place of ending the
// program.
void surviveBrokenConnections();

// A line that was typed (or piped in), without its end; empty where none is complete yet or the input is over. Never
// waits. One thread.
std::optional<std::string> typedLine();
bool typingOver();  // its input is over: nothing more will come

}  // namespace landfall
