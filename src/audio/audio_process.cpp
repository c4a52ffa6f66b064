#include "src/audio/audio_process.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cctype>
#include <deque>
#include <new>
#include <optional>
#include <string>
#include <string_view>
#include <thread>
#include <vector>

#include <fmt/core.h>
#include <fmt/format.h>
#include <portaudio.h>
#if __has_include(<pa_jack.h>)
#include <pa_jack.h>
#endif
#if __has_include(<pa_linux_alsa.h>)
#include <pa_linux_alsa.h>
#endif

#include "src/audio/audio_device.h"
#include "src/audio/audio_shared.h"
#include "src/system/child_process.h"

namespace landfall {

namespace {

constexpr std::array<int, 7> knownRates{22050, 32000, 44100, 48000, 88200, 96000, 192000};

// Some hosts report nonsense (a latency of minutes, or none); 0 = unknown.
double sane(double latency) { return std::isfinite(latency) && latency > 0.0 && latency < 1.0 ? latency : 0.0; }

std::string shortApiName(const PaHostApiInfo& api) {
    if (api.type == paALSA) return "ALSA";
    if (api.type == paJACK) return "JACK";
    if (api.type == paOSS) return "OSS";
    return api.name;
}

// What the configuration files of alsa-lib 1.2 and alsa-plugins 1.2 put over a card or over the default device, but for
// "default" and "pulse".
constexpr std::array<std::string_view, 28> alsaConversions{
    "a52",        "center_lfe", "dmix",       "dsnoop",     "front",      "hdmi",       "iec958",
    "jack",       "lavrate",    "modem",      "oss",        "phoneline",  "rear",       "samplerate",
    "side",       "spdif",      "speex",      "speexrate",  "surround21", "surround40", "surround41",
    "surround50", "surround51", "surround71", "sysdefault", "upmix",      "usbstream",  "vdownmix"};

const PaHostApiInfo& apiOf(const PaDeviceInfo& device) { return *Pa_GetHostApiInfo(device.hostApi); }

std::string labelOf(const PaDeviceInfo& device) { return shortApiName(apiOf(device)) + ": " + device.name; }

std::string lower(std::string text) {
    for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return text;
}

// The library's own words are for programmers.
std::string reason(PaError error) {
    switch (error) {
        case paDeviceUnavailable: return "another program is using it, or it was unplugged";
        case paInvalidSampleRate: return "it does not run at this rate";
        case paInvalidChannelCount: return "it does not have so many channels";
        case paInsufficientMemory: return "there is not enough memory";
        case paUnanticipatedHostError: return "its driver or sound server refused";
        default: return fmt::format("its driver gave error {}", error);
    }
}

constexpr const char* clientName = "Landfall";

// JACK lists every client that has ports, other processes of this program among them: a player cannot be heard there.
// JACK numbers clients of one name ("Landfall-01"); ALSA's plug-in for JACK names them after the program
// ("landfall.P.1234.0").
bool isOurs(const PaDeviceInfo& info) {
    const std::string_view name = info.name, ours = clientName;
    const bool named = name.size() >= ours.size() && (name.front() == 'L' || name.front() == 'l')
                       && name.substr(1, ours.size() - 1) == ours.substr(1);
    return apiOf(info).type == paJACK && named
           && (name.size() == ours.size() || name[ours.size()] == '-' || name[ours.size()] == '.');
}

std::vector<PaDeviceIndex> devicesWith(int PaDeviceInfo::*channels) {
    std::vector<PaDeviceIndex> found;
    for (PaDeviceIndex i = 0; i < Pa_GetDeviceCount(); ++i)
        if (Pa_GetDeviceInfo(i)->*channels > 0 && !isOurs(*Pa_GetDeviceInfo(i))) found.push_back(i);
    return found;
}

std::string labels(const std::vector<PaDeviceIndex>& devices) {
    std::string all;
    for (const PaDeviceIndex i : devices)
        all += fmt::format("{}\"{}\"", all.empty() ? "" : ", ", labelOf(*Pa_GetDeviceInfo(i)));
    return all;
}

// A whole label or name wins over a part of one; a part must fit one device only.
Result<PaDeviceIndex> find(const std::string& wanted, int PaDeviceInfo::*channels, const char* kind) {
    const auto devices = devicesWith(channels);
    if (devices.empty() && wanted.empty())
        return Error{Error::Code::notFound, fmt::format("no {} device: plug one in, or start its sound server", kind)};
    std::vector<PaDeviceIndex> parts;
    for (const PaDeviceIndex i : devices) {
        const PaDeviceInfo& info = *Pa_GetDeviceInfo(i);
        if (wanted == labelOf(info) || wanted == info.name) return i;
        if (lower(labelOf(info)).find(lower(wanted)) != std::string::npos) parts.push_back(i);
    }
    if (parts.size() == 1) return parts.front();
    if (parts.empty())
        return Error{Error::Code::notFound,
                     fmt::format("no {} device \"{}\": plug it in, or close the program that holds it; there are {}",
                                 kind, wanted, devices.empty() ? "none" : labels(devices))};
    return Error{Error::Code::notFound, fmt::format("\"{}\" fits several {} devices: {}; name one of them in full",
                                                    wanted, kind, labels(parts))};
}

Result<PaDeviceIndex> findInput(const AudioWish& wish) {
    const std::string wanted = wish.input.data();
    if (wanted.empty()) {
        if (Pa_GetDefaultInputDevice() != paNoDevice) return Pa_GetDefaultInputDevice();
        // The library's default is its first interface's, which may have none while another has.
        if (const auto devices = devicesWith(&PaDeviceInfo::maxInputChannels); !devices.empty()) return devices.front();
    }
    return find(wanted, &PaDeviceInfo::maxInputChannels, "input");
}

// Named, else the input's own, else the default of its interface, which may be paNoDevice.
Result<PaDeviceIndex> findOutput(const AudioWish& wish, PaDeviceIndex input) {
    if (wish.output[0] != '\0') return find(wish.output.data(), &PaDeviceInfo::maxOutputChannels, "output");
    return Pa_GetDeviceInfo(input)->maxOutputChannels > 0 ? input : apiOf(*Pa_GetDeviceInfo(input)).defaultOutputDevice;
}

// At least two blocks, so that one late wake-up is survived; what the device offers otherwise.
PaStreamParameters parameters(PaDeviceIndex device, int channels, double offered, double rate, int frames) {
    return {device, channels, paFloat32, std::max(sane(offered), 2.0 * frames / rate), nullptr};
}

void list(AudioAnswer& answer) {
    const int count = std::min<int>(std::max(0, Pa_GetDeviceCount()), static_cast<int>(answer.devices.size()));
    for (int i = 0; i < count; ++i) {
        const PaDeviceInfo& info = *Pa_GetDeviceInfo(i);
        SharedDevice& device = answer.devices[static_cast<std::size_t>(i)];
        setText(device.api, shortApiName(apiOf(info)));
        setText(device.name, info.name);
        device.inputs = isOurs(info) ? 0 : info.maxInputChannels;
        device.outputs = isOurs(info) ? 0 : info.maxOutputChannels;
        device.defaultRate = info.defaultSampleRate;
        device.inputLatency = sane(info.defaultLowInputLatency);
        device.outputLatency = sane(info.defaultLowOutputLatency);
        device.defaultInput = i == Pa_GetDefaultInputDevice();
        device.defaultOutput = i == Pa_GetDefaultOutputDevice();
        device.converted =
            apiOf(info).type == paALSA
            && std::find(alsaConversions.begin(), alsaConversions.end(), info.name) != alsaConversions.end();
    }
    answer.deviceCount = static_cast<std::uint32_t>(count);
}

// A stream each for input and output, since one for both ends at once where ALSA's plug-in for PulseAudio does not know
// its delay yet (alsa-plugins, issue 65).
struct Streams {
    explicit Streams(AudioShared& memory) : shared(memory), callback(memory) {}
    AudioShared& shared;
    AudioCallback callback;
    PaStream* input = nullptr;
    PaStream* output = nullptr;  // null: the input works alone
    int inputChannels = 0;
    int outputChannels = 0;
    bool falseAlarms = false;
};

// The library's clock need not be the system's: only what lies between two of its times counts. Longer than a second is
// nonsense.
Seconds between(PaTime earlier, PaTime later) {
    return Seconds(earlier > 0.0 && later > earlier && later - earlier < 1.0 ? later - earlier : 0.0);
}

extern "C" int onInput(const void* input, void*, unsigned long frames, const PaStreamCallbackTimeInfo* time,
                       PaStreamCallbackFlags flags, void* user) {
    auto& streams = *static_cast<Streams*>(user);
    streams.callback.hear({.samples = static_cast<const float*>(input),
                           .channels = streams.inputChannels,
                           .frames = frames,
                           .broke = (flags & (paInputOverflow | paInputUnderflow)) != 0,
                           .falseAlarms = streams.falseAlarms,
                           .capturedAt = time != nullptr ? time->inputBufferAdcTime : 0.0,
                           .age = time != nullptr ? between(time->inputBufferAdcTime, time->currentTime) : Seconds()});
    return paContinue;
}

extern "C" int onOutput(const void*, void* output, unsigned long frames, const PaStreamCallbackTimeInfo* time,
                        PaStreamCallbackFlags flags, void* user) {
    auto& streams = *static_cast<Streams*>(user);
    streams.callback.play(
        {.samples = static_cast<float*>(output),
         .channels = streams.outputChannels,
         .frames = frames,
         .broke = (flags & (paOutputUnderflow | paOutputOverflow)) != 0,
         .ahead = time != nullptr ? between(time->currentTime, time->outputBufferDacTime) : Seconds()});
    return paContinue;
}

extern "C" void onInputFinished(void* user) {
    static_cast<Streams*>(user)->shared.finished.store(1, std::memory_order_release);
}

int answerWith(AudioShared& shared, AudioStage stage, const std::string& message) {
    setText(shared.answer.message, message);
    shared.stage.store(stage, std::memory_order_release);
    return 1;
}

std::string ratesThatWork(const PaStreamParameters& input) {
    std::string all;
    for (const int rate : knownRates)
        if (Pa_IsFormatSupported(&input, nullptr, rate) == paFormatIsSupported)
            all += fmt::format("{}{}", all.empty() ? "" : ", ", rate);
    return all;
}

#if __has_include(<pa_linux_alsa.h>)
void hurry(PaStream* stream, const PaDeviceInfo& device) {
    if (apiOf(device).type == paALSA) PaAlsa_EnableRealtimeScheduling(stream, 1);
}
#else
void hurry(PaStream*, const PaDeviceInfo&) {}
#endif

// Where there is none, or it refuses, the input works alone; the answer's message says why, unless there is simply
// none.
void openOutput(AudioShared& shared, Streams& streams, PaDeviceIndex input) {
    if (shared.wish.wantsOutput == 0) return;
    const auto output = findOutput(shared.wish, input);
    if (!output) return setText(shared.answer.message, output.error().message);
    if (*output == paNoDevice) return;
    const PaDeviceInfo& info = *Pa_GetDeviceInfo(*output);
    const auto refuse = [&](PaError error) {
        setText(shared.answer.message, fmt::format("{}: no output at {:.0f} Hz, because {}. Choose another output",
                                                   labelOf(info), shared.answer.rate, reason(error)));
        streams.output = nullptr;
    };
    streams.outputChannels = std::min(2, info.maxOutputChannels);
    const double rate = shared.answer.rate;
    const auto outputs =
        parameters(*output, streams.outputChannels, info.defaultLowOutputLatency, rate, shared.wish.frames);
    if (const PaError error =
            Pa_OpenStream(&streams.output, nullptr, &outputs, rate, static_cast<unsigned long>(shared.wish.frames),
                          paNoFlag, onOutput, &streams);
        error != paNoError)
        return refuse(error);
    hurry(streams.output, info);
    if (const PaError error = Pa_StartStream(streams.output); error != paNoError) {
        Pa_CloseStream(streams.output);
        return refuse(error);
    }
    setText(shared.answer.outputLabel, labelOf(info));
    shared.plays.store(1, std::memory_order_release);
}

// Opens and starts the input and, if there is one, the output. 0 = it runs.
int open(AudioShared& shared, Streams& streams) {
    const AudioWish& wish = shared.wish;
    AudioAnswer& answer = shared.answer;
    const auto input = findInput(wish);
    if (!input) return answerWith(shared, AudioStage::noDevice, input.error().message);
    const PaDeviceInfo& info = *Pa_GetDeviceInfo(*input);
    const std::string label = labelOf(info);
    if (wish.channel > info.maxInputChannels)
        return answerWith(shared, AudioStage::failed,
                          fmt::format("{}: has {} input channels, so channel {} cannot be chosen", label,
                                      info.maxInputChannels, wish.channel));
    const double rate = wish.rate > 0 ? wish.rate : info.defaultSampleRate;
    const auto wished = [&](int channels) {
        return parameters(*input, channels, info.defaultLowInputLatency, rate, wish.frames);
    };
    if (const auto one = wished(wish.channel); Pa_IsFormatSupported(&one, nullptr, rate) != paFormatIsSupported) {
        const std::string rates = ratesThatWork(one);
        if (!rates.empty())
            return answerWith(shared, AudioStage::refusedRate,
                              fmt::format("{}: does not run at {:.0f} Hz; these rates work: {}", label, rate, rates));
    }
    streams.falseAlarms = apiOf(info).type == paJACK;
    answer.rate = rate;
    PaError opened = paInvalidDevice;
    for (const int channels : {std::max(wish.channel, meteredChannels(info.maxInputChannels)), wish.channel}) {
        if (opened == paNoError) break;
        const auto inputs = wished(channels);
        streams.inputChannels = channels;
        opened = Pa_OpenStream(&streams.input, &inputs, nullptr, rate, static_cast<unsigned long>(wish.frames),
                               paNoFlag, onInput, &streams);
    }
    if (opened != paNoError)
        return answerWith(shared, AudioStage::failed,
                          fmt::format("{}: cannot be opened: {}. Close other sound programs, or plug it in again",
                                      label, reason(opened)));
    Pa_SetStreamFinishedCallback(streams.input, onInputFinished);
    hurry(streams.input, info);
    setText(answer.inputLabel, label);
    answer.inputChannels = streams.inputChannels;
    openOutput(shared, streams, *input);
    shared.active.store(1, std::memory_order_release);
    if (const PaError started = Pa_StartStream(streams.input); started != paNoError)
        return answerWith(shared, AudioStage::failed,
                          fmt::format("{}: cannot be started: {}. Close other sound programs, or plug it in again",
                                      label, reason(started)));
    shared.stage.store(AudioStage::running, std::memory_order_release);
    return 0;
}

// An input that is only metered: its callback copies, interleaved as they come; what comes while nobody looks is
// dropped.
struct Metered {
    AudioShared::Meter& meter;
    int channels = 0;
    PaStream* handle = nullptr;
    SampleRing<1u << 17> heard{};

    // Raises the peaks by what was heard since the last call.
    void look() {
        std::array<float, 64 * AudioShared::meteredChannels> some{};
        const auto step = static_cast<std::size_t>(channels);
        // the ring takes and drops whole blocks, so that each part begins with the first channel
        const auto whole = std::span(some).first(64 * step);
        while (const std::size_t got = heard.read(whole).samples)
            for (std::size_t i = 0; i < got; ++i) {
                auto& peak = meter.peaks[i % step];
                const float level = std::abs(whole[i]);
                for (float was = peak.load(std::memory_order_relaxed);
                     was < level && !peak.compare_exchange_weak(was, level, std::memory_order_relaxed);) {
                }
            }
    }
};

extern "C" int onMeteredBlock(const void* input, void*, unsigned long frames, const PaStreamCallbackTimeInfo*,
                              PaStreamCallbackFlags, void* user) {
    auto& metered = *static_cast<Metered*>(user);
    if (input != nullptr)
        metered.heard.write(
            std::span(static_cast<const float*>(input), frames * static_cast<std::size_t>(metered.channels)));
    return paContinue;
}

// One input after another, which may take seconds; those that are open are looked at in between. One that another
// program holds stays unheard.
void meterAll(AudioShared& shared) {
    std::deque<Metered> all;
    const auto look = [&all] {
        for (Metered& each : all) each.look();
    };
    for (std::uint32_t i = 0; i < shared.answer.deviceCount && shared.stop.load(std::memory_order_acquire) == 0; ++i) {
        const PaDeviceInfo& info = *Pa_GetDeviceInfo(static_cast<PaDeviceIndex>(i));
        if (info.maxInputChannels == 0 || isOurs(info) || shared.answer.devices[i].converted != 0) continue;
        Metered& metered = all.emplace_back(shared.meters[i], meteredChannels(info.maxInputChannels));
        const PaStreamParameters input{static_cast<PaDeviceIndex>(i), metered.channels, paFloat32,
                                       std::max(sane(info.defaultHighInputLatency), 0.05), nullptr};
        if (Pa_OpenStream(&metered.handle, &input, nullptr, info.defaultSampleRate, paFramesPerBufferUnspecified,
                          paNoFlag, onMeteredBlock, &metered)
            != paNoError) {
            all.pop_back();
            continue;
        }
        if (Pa_StartStream(metered.handle) == paNoError)
            metered.meter.channels.store(metered.channels, std::memory_order_release);
        look();
    }
    while (shared.stop.load(std::memory_order_acquire) == 0) {
        for (const Metered& each : all)
            if (Pa_IsStreamActive(each.handle) != 1) each.meter.channels.store(0, std::memory_order_release);
        look();
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    for (const Metered& each : all) {
        Pa_AbortStream(each.handle);
        Pa_CloseStream(each.handle);
    }
}

}  // namespace

int runAudioProcess() {
    auto memory = SharedMemory::fromParent(sizeof(AudioShared));
    if (!memory) {
        fmt::print(stderr, "landfall: {}\n", memory.error().message);
        return 1;
    }
    endWithParent();
    AudioShared& shared = *std::launder(static_cast<AudioShared*>(memory->data()));
    if (shared.layout != AudioShared::currentLayout) return 1;
#if __has_include(<pa_jack.h>)
    PaJack_SetClientName(clientName);
#endif
    if (const PaError error = Pa_Initialize(); error != paNoError)
        return answerWith(shared, AudioStage::failed,
                          fmt::format("sound does not start ({}): restart the sound server; if you have an ALSA "
                                      "configuration of your own (~/.asoundrc), look there",
                                      reason(error)));
    list(shared.answer);
    if (shared.wish.task != AudioTask::hear) {
        shared.stage.store(AudioStage::listed, std::memory_order_release);
        if (shared.wish.task == AudioTask::meter) meterAll(shared);
        Pa_Terminate();
        return 0;
    }
    Streams streams(shared);
    if (const int failure = open(shared, streams); failure != 0) {
        // A client that vanishes makes some servers stumble for all the others.
        Pa_Terminate();
        return failure;
    }
    while (shared.stop.load(std::memory_order_acquire) == 0) {
        shared.active.store(Pa_IsStreamActive(streams.input) == 1, std::memory_order_release);
        shared.plays.store(streams.output != nullptr && Pa_IsStreamActive(streams.output) == 1,
                           std::memory_order_release);
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    // An orderly goodbye to the sound server. Where it hangs, the parent kills this process.
    for (PaStream* stream : {streams.input, streams.output}) {
        if (stream == nullptr) continue;
        Pa_AbortStream(stream);
        Pa_CloseStream(stream);
    }
    Pa_Terminate();
    return 0;
}

}  // namespace landfall
