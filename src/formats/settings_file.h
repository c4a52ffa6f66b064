// What the program remembers between sittings, in one TOML file that a person may edit. Plain values; read and written
// by one thread.
#pragma once

#include <array>
#include <filesystem>
#include <string>
#include <vector>

#include "src/music/guitar.h"
#include "src/practice/landing.h"
#include "src/system/result.h"

namespace landfall {

// Key codes as GLFW 3 counts them.
struct LearnedKeys {
    int again = 32, next = 257, discard = 259, see = 83;  // space, enter, backspace, S
    int under = 85, on = 73, over = 79;                   // U, I, O: guesses by ear
};

// When a player without the live trace gets to see how the tries went. A set asked by ear shows nothing until the
// player chooses to see.
enum class Telling { everyTry, everyFew, afterSet };
// What a player sees of the pitch where the drill does not guide.
enum class Tracing { whilePlaying, afterTry, byEar };
// How a page that is done goes on, besides the key.
enum class GoOn { key, waiting, mutedStrokes };
// How a result is told besides the screen: the target and what was played, as two tones; spoken by the system.
enum class Sounded { nothing, tones, speech };
enum class Theme { system, light, dark };

// In the file and on the command line, in the order of the enumerators.
inline constexpr std::array tellingNames{"every try", "every few", "summary"};
inline constexpr std::array tracingNames{"while playing", "after the try", "by ear"};
inline constexpr std::array goOnNames{"key", "waiting", "muted strokes"};
inline constexpr std::array soundedNames{"nothing", "tones", "speech"};
inline constexpr std::array themeNames{"system", "light", "dark"};

struct Settings {
    std::string student;  // empty: nobody has said yet
    Guitar guitar;        // [guitar]

    std::string deviceName;  // [device] its label or a part of it; empty: the system's choice
    bool simulated = false;  // the simulated player instead of a device
    int channel = 1;         // 1-based
    int frames = 128;        // a block of the audio callback

    Cents aim{25.0};  // [practice]
    Target target = Target::concert;
    Telling feedback = Telling::everyTry;
    Tracing trace = Tracing::afterTry;
    GoOn goOn = GoOn::key;
    int todayMinutes = 20;
    bool keepTakes = false;     // a FLAC file for each try
    std::filesystem::path log;  // empty: log.sqlite; a relative one is in the platform's data folder

    Decibels soundLevel{-30.0};  // [sound] of the loudest output, dBFS: starts low, for the ears' sake
    bool targetNote = true;      // is sounded before each place of a drill
    Sounded results = Sounded::nothing;
    std::string outputName;  // a device's label or a part of it; empty: the input's own

    double textSize = 1.0;  // [window] factor
    Theme theme = Theme::system;
    int windowWidth = 1280, windowHeight = 800;  // plain pixels, as it was left
    bool fullScreen = false;
    LearnedKeys keys;  // [keys]

    std::string cautionsSeen;  // the day the cautions were shown and accepted, "2027-03-01"; empty: not yet
};

struct LoadedSettings {
    Settings settings;
    std::vector<std::string> warnings;  // one line each: file, line, what was expected; the default stands in
    bool broken = false;                // the file is no TOML: all of this is defaults
};

// A missing file gives the defaults without a warning. Fails only where the file is there and cannot be read.
Result<LoadedSettings> loadSettings(const std::filesystem::path& file);

// Writes what differs from the file and leaves the rest of it as it is, keys that are not known here included (comments
// are not kept). The file is replaced in one step: whatever happens, either the old one or the new one is there. A file
// that is no TOML is kept beside it, under a name that was free.
Result<void> saveSettings(const std::filesystem::path& file, const Settings& settings);

// The same for the keys alone in which `after` differs from `before`: what was said on the command line for one sitting
// stays out of the file.
Result<void> saveChanges(const std::filesystem::path& file, const Settings& before, const Settings& after);

// settings.toml in the platform's configuration folder.
Result<std::filesystem::path> settingsFile();

// The log to use: what the command line names, else the settings' log, else log.sqlite in the platform's data folder.
Result<std::filesystem::path> chosenLogFile(const Settings& settings, const std::string& fromCommandLine);

}  // namespace landfall
