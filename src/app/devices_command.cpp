// `landfall devices`: the sound devices there are; and the hidden `landfall audio-process`, the process that holds the audio library.
#include <memory>
#include <string>

#include <CLI/CLI.hpp>
#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/audio/audio_device.h"
#include "src/audio/audio_process.h"

namespace landfall {

namespace {

std::string milliseconds(const std::optional<Seconds>& latency) { return latency ? fmt::format("{:.1f}", 1000.0 * latency->value) : "-"; }

void printTable(const std::vector<DeviceInfo>& devices) {
    fmt::print("{:>3} {:>3} {:>7} {:>8} {:>8}  device\n", "in", "out", "Hz", "in ms", "out ms");
    for (const DeviceInfo& device : devices)
        fmt::print("{:>3} {:>3} {:>7.0f} {:>8} {:>8}  {}{}{}\n", device.inputs, device.outputs, device.defaultRate,
                   device.inputs > 0 ? milliseconds(device.inputLatency) : "", device.outputs > 0 ? milliseconds(device.outputLatency) : "",
                   device.label(), device.defaultInput ? " (default input)" : "", device.defaultOutput ? " (default output)" : "");
}

int list() {
    const auto devices = listDevices();
    if (!devices) {
        fmt::print(stderr, "landfall: {}\n", devices.error().message);
        return 1;
    }
    if (devices->empty()) {
        fmt::print("No sound devices: plug in an interface or start a sound server (JACK, PipeWire). Without one, --input simulated or a sound file works.\n");
        return 0;
    }
    printTable(*devices);
    return 0;
}

}  // namespace

void addDevicesCommand(CLI::App& app, int& status) {
    CLI::App* command = app.add_subcommand("devices", "List the sound devices there are");
    command->callback([&status] { status = list(); });
}

void addAudioProcessCommand(CLI::App& app, int& status) {
    CLI::App* command = app.add_subcommand("audio-process", "The process that holds the sound device; started by the program itself");
    command->group("");
    command->callback([&status] { status = runAudioProcess(); });
}

}  // namespace landfall
