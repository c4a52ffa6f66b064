// Opens the window on an invented state: show_states [NAME] [--light] [--size 1280x800] [--text 150] [--png FILE];
// without a name it lists them. show_states --all FOLDER [--size ...] [--text ...] draws every state in both themes
// into NAME-dark.png and NAME-light.png there. In the open window → and ← (next and again) go through the states.
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <memory>
#include <string>

#include "gui/window.h"
#include "tests/support/invented_screens.h"

using namespace landfall;

int main(int count, char** words) {
    auto screens = inventedScreens();
    std::string name, all;
    WindowConfig config;
    bool dark = true;
    double text = 1.0;
    for (int i = 1; i < count; ++i) {
        const std::string word = words[i];
        const std::string value = i + 1 < count ? words[i + 1] : "";
        if (word == "--light") dark = false;
        else if (word == "--size" && std::sscanf(value.c_str(), "%dx%d", &config.width, &config.height) == 2) ++i;
        else if (word == "--text") text = std::atof(value.c_str()) / 100.0, ++i;
        else if (word == "--all") all = value, ++i;
        else if (word == "--png") config.screenshot = value, ++i;
        else name = word;
    }
    for (auto& [state, snapshot] : screens)
        for (const bool night : {true, false}) {
            if (all.empty()) break;
            config.screenshot = all + "/" + state + (night ? "-dark.png" : "-light.png");
            snapshot.dark = night;
            snapshot.textSize = text;
            const auto drawn = std::make_shared<const Snapshot>(snapshot);
            const auto result = runWindow(
                config, [&] { return drawn; }, [](const Intent&) {});
            if (result) continue;
            std::fprintf(stderr, "show_states: %s\n", result.error().message.c_str());
            return 1;
        }
    if (!all.empty()) return 0;
    auto at = screens.find(name);
    if (at == screens.end()) {
        for (const auto& screen : screens) std::printf("%s\n", screen.first.c_str());
        return name.empty() ? 0 : 2;
    }
    const auto make = [&] {
        auto snapshot = std::make_shared<Snapshot>(at->second);
        snapshot->dark = dark;
        snapshot->textSize = text;
        return std::shared_ptr<const Snapshot>(snapshot);
    };
    auto shown = make();
    const auto result = runWindow(
        config, [&] { return shown; },
        [&](const Intent& intent) {
            if (intent.kind == Intent::Kind::next || intent.kind == Intent::Kind::more)
                at = std::next(at) == screens.end() ? screens.begin() : std::next(at);
            if (intent.kind == Intent::Kind::again || intent.kind == Intent::Kind::less)
                at = at == screens.begin() ? std::prev(screens.end()) : std::prev(at);
            shown = make();
        });
    if (!result) std::fprintf(stderr, "show_states: %s\n", result.error().message.c_str());
    return result ? 0 : 1;
}
