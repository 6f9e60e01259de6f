"""Which pin of the board carries what, for the bench. Numbers are GPIO numbers; levels are 0 or 1.

Buttons, pot switch and home flags close to ground with a pull-up; the stop chain drives its pin high while
healthy; `motor_enable` high gives the drives power.
"""

UART_TX, UART_RX = 0, 1
STEP = (2, 4)
DIR = (3, 5)
MOTOR_ENABLE = 6
BUZZER = 7
LAMP_HANDS_IN, LAMP_ARMED, LAMP_FAULT = 19, 9, 10
HOME = (11, 12)
STOP_CHAIN = 13
LEAVE, ASIDE, ARM, CONFIRM = 14, 15, 16, 17
POT = 18
I2C_SDA, I2C_SCL = 20, 21
SPI_MISO, SPI_SCK, SELECT_CONTENTS, SELECT_UNDERSIDE = 8, 26, 22, 27
ADC_KNOB = 28

# A motor or actuator: PWM on the step pin; its pulse lines have the pins that are then not wired otherwise.
PULSES = (LAMP_ARMED, ADC_KNOB)

OUTPUTS = (MOTOR_ENABLE, BUZZER, LAMP_HANDS_IN, LAMP_ARMED, LAMP_FAULT)
BUTTONS = {"leave": LEAVE, "aside": ASIDE, "arm": ARM, "confirm": CONFIRM}
# levels with nobody touching anything, the pot on its stand and the chain whole
AT_REST = {LEAVE: 1, ASIDE: 1, ARM: 1, CONFIRM: 1, POT: 0, STOP_CHAIN: 1, HOME[0]: 1, HOME[1]: 1}
