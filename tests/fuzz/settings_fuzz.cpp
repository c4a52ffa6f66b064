// Arbitrary bytes as the settings file: settings that can be used whatever it held, and saving them never fails.
#include "src/formats/settings_file.h"
#include "src/system/printable.h"
#include "tests/fuzz/fuzz_input.h"
#include "tests/fuzz/scratch_file.h"

using namespace landfall;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    static const ScratchFile file("settings.toml");
    file.hold({data, size});
    const auto loaded = loadSettings(file.path);
    mustHold(static_cast<bool>(loaded), "a settings file that can be read gives settings");
    mustHold(static_cast<bool>(checkGuitar(loaded->settings.guitar)), "the guitar in the settings can be played");
    mustHold(loaded->settings.channel >= 1 && loaded->settings.frames > 0, "the device in the settings can be opened");
    mustHold(loaded->settings.aim.value >= 1.0 && loaded->settings.soundLevel.value <= 0.0,
             "aim and level are in range");
    for (const std::string& warning : loaded->warnings)
        mustHold(!warning.empty() && printable(warning) == warning, "a warning is one line without control characters");
    mustHold(static_cast<bool>(saveSettings(file.path, loaded->settings)), "settings can be saved over any file");
    const auto again = loadSettings(file.path);
    mustHold(
        again && again->settings.student == loaded->settings.student && again->settings.aim == loaded->settings.aim,
        "what was saved comes back");
    std::error_code ignored;  // the files kept beside it
    for (const auto& entry : std::filesystem::directory_iterator(file.path.parent_path(), ignored))
        std::filesystem::remove(entry.path(), ignored);
    return 0;
}
