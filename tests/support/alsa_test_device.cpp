// An ALSA capture device for the tests, without hardware: plays a raw file of 32-bit floats, one channel, paced by the
// clock, for one program at a time, as a sound card does, and misbehaves on demand: the file `faults` holds one word,
// looked up at every step: "dead" (every call fails as if unplugged), "stall" (time stands still), "xrun" (one
// overrun).
#define PIC 1
#include <chrono>
#include <cstring>
#include <fstream>
#include <memory>
#include <string>
#include <vector>

#include <alsa/asoundlib.h>
#include <alsa/pcm_external.h>
#include <sys/file.h>
#include <sys/timerfd.h>
#include <unistd.h>

namespace {

struct Device {
    snd_pcm_ioplug_t io{};
    std::ifstream samples;
    int held = -1;  // the file of samples, locked
    std::string faults;
    double began = 0.0;  // s
    double stalled = 0.0;
    snd_pcm_uframes_t taken = 0;  // since the start
    bool overran = false, overrunGiven = false;

    ~Device() {
        if (io.poll_fd > 0) ::close(io.poll_fd);
        if (held >= 0) ::close(held);
    }
    bool suffers(const char* fault) const {
        std::string word;
        std::ifstream(faults) >> word;
        return word == fault;
    }
};

double now() { return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count(); }
Device& deviceOf(snd_pcm_ioplug_t* io) { return *static_cast<Device*>(io->private_data); }

int start(snd_pcm_ioplug_t* io) {
    Device& device = deviceOf(io);
    if (device.suffers("dead")) return -ENODEV;
    device.began = now();
    device.taken = 0;
    const itimerspec everyMillisecond{{0, 1000000}, {0, 1000000}};
    return ::timerfd_settime(io->poll_fd, 0, &everyMillisecond, nullptr);
}

// What was overrun is made ready again; where it is merely stopped it stays so.
int prepare(snd_pcm_ioplug_t* io) {
    Device& device = deviceOf(io);
    if (device.overran) device.overrunGiven = true;
    device.overran = false;
    return 0;
}

int stop(snd_pcm_ioplug_t* io) {
    const itimerspec never{};
    return ::timerfd_settime(io->poll_fd, 0, &never, nullptr);
}

snd_pcm_sframes_t pointer(snd_pcm_ioplug_t* io) {
    Device& device = deviceOf(io);
    if (device.suffers("dead")) return -ENODEV;
    const bool stalls = device.suffers("stall");
    if (stalls && device.stalled == 0.0) device.stalled = now();
    if (!stalls && device.stalled != 0.0) {
        device.began += now() - device.stalled;
        device.stalled = 0.0;
    }
    // As a card does, it stays overrun until it is started again: not every caller passes on what it was told.
    if (device.suffers("xrun") && !device.overrunGiven) device.overran = true;
    const auto due = static_cast<snd_pcm_uframes_t>(((stalls ? device.stalled : now()) - device.began) * io->rate);
    if (device.overran || due > device.taken + io->buffer_size) return -EPIPE;
    return static_cast<snd_pcm_sframes_t>(due % io->buffer_size);
}

snd_pcm_sframes_t transfer(snd_pcm_ioplug_t* io, const snd_pcm_channel_area_t* areas, snd_pcm_uframes_t offset,
                           snd_pcm_uframes_t size) {
    Device& device = deviceOf(io);
    char* const to = static_cast<char*>(areas[0].addr) + areas[0].first / 8 + offset * (areas[0].step / 8);
    std::memset(to, 0, size * sizeof(float));
    device.samples.read(to, static_cast<std::streamsize>(size * sizeof(float)));
    device.taken += size;
    return static_cast<snd_pcm_sframes_t>(size);
}

int revents(snd_pcm_ioplug_t* io, pollfd* descriptors, unsigned int, unsigned short* events) {
    std::uint64_t ticks = 0;
    (void)!::read(io->poll_fd, &ticks, sizeof ticks);
    *events = static_cast<unsigned short>(deviceOf(io).suffers("dead") ? POLLERR | POLLIN : descriptors[0].revents);
    return 0;
}

int closeDevice(snd_pcm_ioplug_t* io) {
    delete &deviceOf(io);
    return 0;
}

const snd_pcm_ioplug_callback_t callbacks = [] {
    snd_pcm_ioplug_callback_t all{};
    all.prepare = prepare;
    all.start = start;
    all.stop = stop;
    all.pointer = pointer;
    all.transfer = transfer;
    all.poll_revents = revents;
    all.close = closeDevice;
    return all;
}();

}  // namespace

extern "C" {

SND_PCM_PLUGIN_DEFINE_FUNC(landfall_test) {
    (void)root;
    auto device = std::make_unique<Device>();
    snd_config_iterator_t i;
    snd_config_iterator_t next;
    snd_config_for_each(i, next, conf) {
        snd_config_t* const entry = snd_config_iterator_entry(i);
        const char* id = nullptr;
        const char* text = nullptr;
        if (snd_config_get_id(entry, &id) < 0 || snd_config_get_string(entry, &text) < 0) continue;
        if (std::strcmp(id, "samples") == 0) {
            device->samples.open(text, std::ios::binary);
            device->held = ::open(text, O_RDONLY | O_CLOEXEC);
        }
        if (std::strcmp(id, "faults") == 0) device->faults = text;
    }
    if (stream != SND_PCM_STREAM_CAPTURE || device->suffers("dead")) return -ENODEV;
    if (::flock(device->held, LOCK_EX | LOCK_NB) != 0) return -EBUSY;
    snd_pcm_ioplug_t& io = device->io;
    io.version = SND_PCM_IOPLUG_VERSION;
    io.name = "Landfall's test device";
    io.callback = &callbacks;
    io.private_data = device.get();
    io.poll_fd = ::timerfd_create(CLOCK_MONOTONIC, TFD_NONBLOCK | TFD_CLOEXEC);
    io.poll_events = POLLIN;
    if (const int failed = snd_pcm_ioplug_create(&io, name, stream, mode); failed < 0) return failed;
    static_cast<void>(device.release());  // the device's own from here: closeDevice
    const unsigned int access = SND_PCM_ACCESS_RW_INTERLEAVED;
    const unsigned int format = SND_PCM_FORMAT_FLOAT;
    snd_pcm_ioplug_set_param_list(&io, SND_PCM_IOPLUG_HW_ACCESS, 1, &access);
    snd_pcm_ioplug_set_param_list(&io, SND_PCM_IOPLUG_HW_FORMAT, 1, &format);
    snd_pcm_ioplug_set_param_minmax(&io, SND_PCM_IOPLUG_HW_CHANNELS, 1, 1);
    snd_pcm_ioplug_set_param_minmax(&io, SND_PCM_IOPLUG_HW_RATE, 48000, 48000);
    snd_pcm_ioplug_set_param_minmax(&io, SND_PCM_IOPLUG_HW_PERIOD_BYTES, 4 * 64, 4 * 2048);
    snd_pcm_ioplug_set_param_minmax(&io, SND_PCM_IOPLUG_HW_BUFFER_BYTES, 4 * 256, 4 * 16384);
    *pcmp = io.pcm;
    return 0;
}

SND_PCM_PLUGIN_SYMBOL(landfall_test);

}  // extern "C"
