// `landfall devices`: the sound devices there are.
#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/audio/audio_device.h"
#include "src/formats/table.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

constexpr const char* noDevices =
    "no sound devices: plug in an interface or start a sound server (JACK, PipeWire); without one, --input simulated "
    "or a sound file works";

Cell milliseconds(const std::optional<Seconds>& latency) {
    if (!latency) return std::monostate{};
    return 1000.0 * latency->value;
}

Table table(const std::vector<DeviceInfo>& devices) {
    Table all{.columns = {"device", "api", "name", "inputs", "outputs", "rate_hz", "input_latency_ms",
                          "output_latency_ms", "default_input", "default_output"},
              .rows = {}};
    for (const DeviceInfo& device : devices)
        all.rows.push_back({device.label(), device.api, device.name, std::int64_t{device.inputs},
                            std::int64_t{device.outputs}, device.defaultRate, milliseconds(device.inputLatency),
                            milliseconds(device.outputLatency), device.defaultInput, device.defaultOutput});
    return all;
}

// Columns as wide as what is in them; the name last, since it may be long.
void printDevices(const std::vector<DeviceInfo>& devices) {
    const auto latency = [](const std::optional<Seconds>& known, int channels) {
        return channels == 0 ? std::string() : known ? fmt::format("{:.1f} ms", 1000.0 * known->value) : "unknown";
    };
    fmt::print("{:>3} {:>3} {:>8}  {:>10}  {:>10}  {}\n", "in", "out", "rate", "in delay", "out delay", "device");
    for (const DeviceInfo& device : devices)
        fmt::print("{:>3} {:>3} {:>5.0f} Hz  {:>10}  {:>10}  {}{}{}\n", device.inputs, device.outputs,
                   device.defaultRate, latency(device.inputLatency, device.inputs),
                   latency(device.outputLatency, device.outputs), printable(device.label()),
                   device.defaultInput ? " (default input)" : "", device.defaultOutput ? " (default output)" : "");
    fmt::print(
        "\nChoose one with --device \"{}\", or any part of that which fits one device only. Delays are what the device "
        "claims.\n",
        printable(devices.front().label()));
}

}  // namespace

int runDevices(bool json) {
    const auto devices = listDevices();
    if (!devices) return fail(devices.error());
    if (json) fmt::print("{}\n", toJson({{"devices", table(*devices)}}));
    else if (devices->empty()) fmt::print("{}\n", noDevices);
    else printDevices(*devices);
    return 0;
}

}  // namespace landfall
