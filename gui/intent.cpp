#include "gui/intent.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>

namespace landfall {

namespace {

// GLFW 3.3 key codes (glfw3.h, "Keyboard keys").
constexpr int keyEscape = 256, keyEnter = 257, keyBackspace = 259, keyRight = 262, keyLeft = 263, keyDown = 264, keyUp = 265;

using Kind = Intent::Kind;

std::optional<Kind> practiceKind(const KeyMap& keys, int key) {
    // Learned keys first: a pedal may send any of the arrows.
    if (key == keys.again) return Kind::again;
    if (key == keys.next) return Kind::next;
    if (key == keys.discard) return Kind::discard;
    if (key == keys.see) return Kind::see;
    switch (key) {
        case keyLeft: return Kind::again;
        case keyRight: return Kind::next;
        case keyDown: return Kind::see;
        default: return std::nullopt;
    }
}

std::optional<Kind> listKind(int key) {
    switch (key) {
        case keyUp: return Kind::previous;
        case keyDown: return Kind::following;
        case keyLeft: return Kind::less;
        case keyRight: return Kind::more;
        case keyEnter: case 32: return Kind::choose;
        case keyBackspace: return Kind::decline;
        default: return std::nullopt;
    }
}

bool typing(const Snapshot& shown) {
    return shown.screen == Screen::settings &&
           std::any_of(shown.settings.rows.begin(), shown.settings.rows.end(), [](const SettingRow& row) { return row.typing; });
}

}  // namespace

Intents intentsForKey(const Snapshot& shown, int key) {
    if (shown.screen == Screen::settings)
        for (const SettingRow& row : shown.settings.rows)
            if (row.learning) return {{key == keyEscape ? Kind::decline : Kind::learned, shown.screen, key}};
    if (typing(shown)) {
        switch (key) {
            case keyEnter: return {{Kind::choose, shown.screen, 0}};
            case keyBackspace: return {{Kind::erase, shown.screen, 0}};
            case keyEscape: return {{Kind::decline, shown.screen, 0}};
            default: return {};
        }
    }
    // What lies over a list is left by escape, back to the list.
    if (key == keyEscape && shown.screen == Screen::drills && shown.drills.elsewhere) return {{Kind::decline, shown.screen, 0}};
    if (key == keyEscape && shown.screen == Screen::history && shown.history.opened) return {{Kind::less, shown.screen, 0}};

    const bool practising = shown.screen == Screen::practice;
    if (const auto kind = practising ? practiceKind(shown.keys, key) : listKind(key)) return {{*kind, shown.screen, 0}};
    if (key == keyEscape && !practising) return {{Kind::open, Screen::practice, 0}};
    constexpr std::array screens{Screen::practice, Screen::drills, Screen::history, Screen::settings, Screen::stringCheck, Screen::start};
    if (key >= '1' && key < '1' + static_cast<int>(screens.size()))
        return {{Kind::open, screens[static_cast<std::size_t>(key - '1')], 0}};
    return {};
}

Intents intentsForCharacter(const Snapshot& shown, unsigned codePoint) {
    if (!typing(shown) || codePoint < 32 || codePoint == 127) return {};
    return {{Kind::typed, shown.screen, static_cast<int>(codePoint)}};
}

std::string keyName(int key) {
    switch (key) {
        case 32: return "space";
        case keyEscape: return "esc";
        case keyEnter: return "enter";
        case 258: return "tab";
        case keyBackspace: return "backspace";
        case keyRight: return "→";
        case keyLeft: return "←";
        case keyDown: return "↓";
        case keyUp: return "↑";
        case 266: return "page up";
        case 267: return "page down";
        default: break;
    }
    if (key > 32 && key < 127) return std::string(1, static_cast<char>(key));
    if (key >= 290 && key <= 314) return fmt::format("F{}", key - 289);
    return fmt::format("key {}", key);
}

}  // namespace landfall
