"""A Modbus RTU server of pymodbus (not written here) on a serial port: modbus_server.py PORT

Device 1: holding 0 = 3452 (tenths), 1 = -100 (tenths), 2-3 = 345.25 as a float ABCD, 4-5 the same CDAB, 6 = 32767 (no
reading); input registers hold the same. Register 100 does not exist.
"""
import asyncio
import struct
import sys

from pymodbus import FramerType
from pymodbus.server import StartAsyncSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice


def words():
    high, low = struct.unpack(">HH", struct.pack(">f", 345.25))
    return [3452, (-100) & 0xFFFF, high, low, low, high, 32767]


async def main():
    device = SimDevice(id=1, simdata=[SimData(0, values=words(), datatype=DataType.REGISTERS)])
    await StartAsyncSerialServer(context=device, framer=FramerType.RTU, port=sys.argv[1], baudrate=9600)


asyncio.run(main())
