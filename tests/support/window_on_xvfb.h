// The window of the program on a display of a test's own (Xvfb), played by keys (xdotool) and read by the words it says
// it drew.
#pragma once

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <memory>
#include <sstream>
#include <string>
#include <vector>

#include <fmt/core.h>

#include "tests/support/command.h"
#include "tests/support/program.h"

namespace landfall::test {

class VirtualDisplay {
public:
    static bool installed() { return std::string(LANDFALL_XVFB) != "" && std::string(LANDFALL_XDOTOOL) != ""; }

    // `picture`: a folder for what is on the display, as picture() reads it.
    explicit VirtualDisplay(const std::string& size = "2000x1200", std::filesystem::path picture = {})
        : name(fmt::format(":{}", 100 + ::getpid() % 20000)), pixels(std::move(picture)) {
        std::vector<std::string> words{LANDFALL_XVFB, name,       "-screen",   "0",
                                       size + "x24",  "-noreset", "-nolisten", "tcp"};
        if (!pixels.empty()) words.insert(words.end(), {"-fbdir", pixels.string()});
        server = std::make_unique<Program>(std::move(words));
        ready = within(20.0, [this] {
            return runCommand(with() + LANDFALL_XDOTOOL + " getdisplaygeometry > /dev/null 2>&1").status == 0;
        });
    }
    // Asked to end, so that it takes its lock file away.
    ~VirtualDisplay() {
        server->ask(SIGTERM);
        within(5.0, [this] { return !server->running(); });
    }
    bool up() const { return ready; }
    // To stand before a command.
    std::string with() const { return fmt::format("DISPLAY={} WAYLAND_DISPLAY= LIBGL_ALWAYS_SOFTWARE=1 ", name); }

    // What is on the display now, as Xvfb keeps it: decoded by pictureOf().
    std::string dump() const {
        // In one go, so that it is of one moment.
        std::ifstream in(pixels / "Xvfb_screen0", std::ios::binary | std::ios::ate);
        std::string file(in ? static_cast<std::size_t>(in.tellg()) : 0, ' ');
        in.seekg(0).read(file.data(), static_cast<std::streamsize>(file.size()));
        return file;
    }

private:
    std::string name;
    std::filesystem::path pixels;
    std::unique_ptr<Program> server;
    bool ready = false;
};

// Rows of red, green and blue, of a dump as xwd makes them (X Window Dump, version 7: XWDFile.h of the X Consortium):
// big-endian numbers, the colours' table, then the pixels of four bytes. Empty where it is something else.
struct Picture {
    int width = 0, height = 0;
    std::vector<unsigned char> pixels;
};
inline Picture pictureOf(const std::string& dump) {
    const auto number = [&](std::size_t index) {
        std::size_t value = 0;
        for (std::size_t i = 4 * index; i < 4 * index + 4; ++i)
            value = value * 256 + static_cast<unsigned char>(dump[i]);
        return value;
    };
    if (dump.size() < 100 || number(11) != 32) return {};
    const std::size_t width = number(4), height = number(5), row = number(12), begin = number(0) + 12 * number(19);
    if (dump.size() < begin + row * height) return {};
    Picture taken{static_cast<int>(width), static_cast<int>(height), std::vector<unsigned char>(3 * width * height)};
    unsigned char* to = taken.pixels.data();
    for (std::size_t y = 0; y < height; ++y)
        for (const char* from = dump.data() + begin + y * row; from != dump.data() + begin + y * row + 4 * width;
             from += 4)
            for (const int colour : {2, 1, 0}) *to++ = static_cast<unsigned char>(from[colour]);
    return taken;
}

// A line of `landfall --words`.
struct ShownFrame {
    double at = 0.0;                 // s of the steady clock
    int lines = 0;                   // traces drawn
    std::vector<std::string> words;  // in the order drawn
    bool says(const std::string& part) const {
        for (const std::string& each : words)
            if (each.find(part) != std::string::npos) return true;
        return false;
    }
};

// Settings, log and takes are in `folder`.
class ProgramWindow {
public:
    ProgramWindow(const VirtualDisplay& on, const TestFolder& in, const std::string& options)
        : display(on), folder(in) {
        program = std::make_unique<Program>(
            std::vector<std::string>{"/bin/sh", "-c",
                                     fmt::format("exec env XDG_CONFIG_HOME={0}/config XDG_DATA_HOME={0}/data "
                                                 "TMPDIR={0} {1} {2} --words {0}/words {3} > {0}/said 2>&1",
                                                 folder.path.string(), display.with(), LANDFALL_PROGRAM, options)});
        opened = within(40.0, [this] { return !frames().empty() && focus(); });
    }
    bool open() const { return opened; }
    bool running() { return program->running(); }
    int exitStatus() const { return program->exitStatus(); }
    void ask(int signal) { program->ask(signal); }
    std::string printed() const { return readText(folder / "said"); }

    // As xdotool names keys: "space", "Return", "BackSpace", "s", "Down".
    void key(const std::string& name) {
        runCommand(display.with() + LANDFALL_XDOTOOL + " key " + name + " > /dev/null 2>&1");
    }

    // "1280x800", as the display has it.
    std::string size() const {
        const std::string geometry =
            runCommand(display.with() + "sh -c '" + LANDFALL_XDOTOOL
                       + " search --onlyvisible --name Landfall getwindowgeometry' 2> /dev/null")
                .output;
        const auto at = geometry.find("Geometry: ");
        return at == std::string::npos ? "" : geometry.substr(at + 10, geometry.find('\n', at) - at - 10);
    }
    void resize(int width, int height) {
        runCommand(display.with() + "sh -c '" + LANDFALL_XDOTOOL + " search --onlyvisible --name Landfall windowsize "
                   + fmt::format("{} {}", width, height) + "' > /dev/null 2>&1");
    }

    // As a file manager does; whether the window took it.
    bool drop(const std::filesystem::path& file) {
        return runCommand(display.with()
                          + fmt::format("sh -c '{} $({} search --onlyvisible --name Landfall | head -n 1) \"{}\"'",
                                        LANDFALL_DROP_FILE, LANDFALL_XDOTOOL, file.string()))
                   .status
               == 0;
    }

    std::vector<ShownFrame> frames() const { return framesOf(readText(folder / "words")); }
    ShownFrame now() const {
        // Long evenings write much: the end of it is enough.
        constexpr std::streamoff enough = 65536;
        std::ifstream in(folder / "words", std::ios::binary | std::ios::ate);
        const std::streamoff size = in ? static_cast<std::streamoff>(in.tellg()) : 0;
        in.seekg(std::max<std::streamoff>(0, size - enough));
        std::string text{std::istreambuf_iterator<char>(in), {}};
        if (size > enough) text.erase(0, text.find('\n') + 1);
        const auto all = framesOf(text);
        return all.empty() ? ShownFrame{} : all.back();
    }
    bool says(const std::string& words, double seconds = 20.0) const {
        return within(seconds, [&] { return now().says(words); });
    }
    bool everSaid(const std::string& words) const {
        for (const ShownFrame& frame : frames())
            if (frame.says(words)) return true;
        return false;
    }
    std::string text() const {
        std::string all;
        for (const std::string& each : now().words) all += each + " | ";
        return all;
    }

private:
    static std::vector<ShownFrame> framesOf(const std::string& words) {
        std::vector<ShownFrame> all;
        std::istringstream text(words);
        for (std::string line; std::getline(text, line) && !text.eof();) {  // the last line may not be complete
            ShownFrame frame;
            std::istringstream parts(line);
            std::string part;
            for (int i = 0; std::getline(parts, part, '\t'); ++i) {
                if (i == 0) frame.at = std::stod(part);
                else if (i == 1) frame.lines = std::stoi(part);
                else frame.words.push_back(part);
            }
            all.push_back(std::move(frame));
        }
        return all;
    }

    bool focus() const {
        return runCommand(display.with() + "sh -c '" + LANDFALL_XDOTOOL
                          + " search --onlyvisible --name Landfall windowfocus' > /dev/null 2>&1")
                   .status
               == 0;
    }

    const VirtualDisplay& display;
    const TestFolder& folder;
    std::unique_ptr<Program> program;
    bool opened = false;
};

}  // namespace landfall::test
