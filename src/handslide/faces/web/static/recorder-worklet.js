// Gathers the microphone's samples, mixed to one channel, into blocks of about 20 ms of 16-bit
// PCM, and tells the peak of each.

class Gather extends AudioWorkletProcessor {
  /** @param {AudioWorkletNodeOptions} options */
  constructor(options) {
    super();
    this.size = options.processorOptions.size;
    this.block = new Int16Array(this.size);
    this.filled = 0;
    this.peak = 0;
    this.over = 0; // samples at the top of what the converter can say
    this.power = 0;
  }

  /** @param {Float32Array[][]} inputs */
  process(inputs) {
    const channels = inputs[0];
    if (!channels.length) return true;
    for (let k = 0; k < channels[0].length; k++) {
      let value = 0;
      for (const channel of channels) value += channel[k];
      value /= channels.length;
      const size = Math.abs(value);
      if (size > this.peak) this.peak = size;
      if (size >= 0.999) this.over += 1;
      this.power += value * value;
      this.block[this.filled++] = Math.round(32767 * Math.max(-1, Math.min(1, value)));
      if (this.filled === this.size) this.send();
    }
    return true;
  }

  send() {
    const level = Math.sqrt(this.power / this.size);
    this.port.postMessage({ block: this.block, peak: this.peak, level, over: this.over }, [
      this.block.buffer,
    ]);
    this.block = new Int16Array(this.size);
    this.filled = this.peak = this.power = this.over = 0;
  }
}

registerProcessor("gather", Gather);
