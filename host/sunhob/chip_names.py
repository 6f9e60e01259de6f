"""Names that MicroPython's own modules use for the chip: attributes of the firmware so called keep theirs.

Public names of machine, rp2, micropython, time, select, neopixel, framebuf, gc, errno, binascii, vfs and math
as in the PyPI packages micropython-rp2-rpi-pico-stubs and micropython-stdlib-stubs 1.29, pins by number left
out (tests/test_firmware_bundle.py holds them against those). First those of the ESP32's pulse peripheral,
from MicroPython's documentation, library esp32, class RMT.
"""

_TEXT = """
    PULSE_MAX RMT bitstream_channel bitstream_rmt channel clock_div clock_freq idle_level loop source_freq
    tx_carrier wait_done write_pulses
    ADC ADCBlock ADCWiPy ALARM0 ALT ALT_GPCK ALT_I2C ALT_OPEN_DRAIN ALT_PIO0 ALT_PIO1 ALT_PWM ALT_SIO
    ALT_SPI ALT_UART ALT_USB ANALOG ATTN_0DB ATTN_11DB ATTN_2_5DB ATTN_6DB AbstractBlockDev BUILTIN_CDC
    BUILTIN_CDC_MSC BUILTIN_DEFAULT BUILTIN_MSC BUILTIN_NONE CONTROLLER CORE_TEMP CORE_VBAT CORE_VREF
    CTS Const_T DEEPSLEEP DEEPSLEEP_RESET DMA DMATimer DRIVE_0 DRIVE_1 DRIVE_2 EACCES EADDRINUSE EAGAIN
    EALREADY EBADF ECONNABORTED ECONNREFUSED ECONNRESET EEXIST EHOSTUNREACH EINPROGRESS EINVAL EIO
    EISDIR ENOBUFS ENODEV ENOENT ENOMEM ENOTCONN ENOTSUP EOPNOTSUPP EPERM ETIMEDOUT Flash FrameBuffer
    FrameBuffer1 GS2_HMSB GS4_HMSB GS8 HARD_RESET I2C I2CTarget I2S IDLE ID_T IN INV_RX INV_TX IN_HIGH
    IN_LOW IRQ_ADDR_MATCH_READ IRQ_ADDR_MATCH_WRITE IRQ_BREAK IRQ_END_READ IRQ_END_WRITE IRQ_FALLING
    IRQ_HIGH_LEVEL IRQ_LOW_LEVEL IRQ_READ_REQ IRQ_RISING IRQ_RX IRQ_RXIDLE IRQ_SM0 IRQ_SM1 IRQ_SM2
    IRQ_SM3 IRQ_TXIDLE IRQ_WRITE_REQ JOIN_NONE JOIN_RX JOIN_TX LED LSB MONO MONO_HLSB MONO_HMSB
    MONO_VLSB MSB MVLSB NeoPixel ONE_SHOT OPEN_DRAIN ORDER OUT OUT_HIGH OUT_LOW PERIODIC PIN_WAKE PIO
    PIOASMEmit PIOASMError POLLERR POLLHUP POLLIN POLLOUT PULL_DOWN PULL_HOLD PULL_UP PWM PWRON_RESET
    Pin RGB565 RTC RTC_WAKE RTS RX RingIO SDCard SHIFT_LEFT SHIFT_RIGHT SLEEP SOFT_RESET SPI STEREO
    Signal SoftI2C SoftSPI StateMachine TX Timer UART USBDevice VREF VfsFat VfsLfs2 WDT WDT_RESET
    WIDTH_10BIT WIDTH_11BIT WIDTH_12BIT WIDTH_13BIT WIDTH_9BIT WLAN_WAKE XFER_FAILED XFER_STALLED
    XFER_SUCCESS a2b_base64 acos acosh active add_program alarm alloc_emergency_exception_buf any asin
    asinh asm_pio asm_pio_encode asm_thumb asm_xtensa atan atan2 atanh atten b2a_base64 bitstream blit
    board bootloader bootsel_button bpp buf ceil channel chdir close collect config connect const
    copysign cos cosh country cpu crc32 datetime deepsleep degrees deinit desc_cfg desc_dev dht_readinto
    disable disable_irq drive duty_ns duty_u16 e ellipse enable enable_irq ep_max erf erfc errorcode
    exec exp expm1 fabs factorial feed fill fill_rect floor flush fmod freq frexp gamma get getcwd
    gmtime heap_lock heap_unlock hexlify high hline idle ilistdir inf init ioctl ipoll irq isclose
    isenabled isfinite isinf isnan itf_max kbd_intr ldexp lgamma lightsleep line localtime log log10
    log2 low mem16 mem32 mem8 mem_alloc mem_backup mem_free mem_info memory mkdir mkfs mktime mode modf
    modify mount n nan native off on open opt_level pack_ctrl pi pin pixel poll poly pow pull put
    qstr_info radians read read_u16 readblocks readfrom readfrom_into readfrom_mem readfrom_mem_into
    readinto readline rect register remote_wakeup remove remove_program rename reset reset_cause restart
    rmdir rom_ioctl rx_fifo scan schedule scroll select sendbreak shift sin sinh sleep sleep_ms sleep_us
    soft_reset sqrt stack_use stall start stat state_machine statvfs stop str_max submit_xfer tan tanh
    tau text threshold ticks_add ticks_cpu ticks_diff ticks_ms ticks_us time time_ns time_pulse_us
    timing toggle trunc tx_fifo txdone umount unhexlify unique_id unpack_ctrl unregister value viper
    vline width write write_readinto writeblocks writeto writeto_mem writevto
"""
NAMES = frozenset(_TEXT.split())
