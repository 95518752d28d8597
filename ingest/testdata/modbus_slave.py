"""Units on a Modbus RTU line, for the tests: python3-pymodbus and python3-serial-asyncio of Debian.

usage: modbus_slave.py DEVICE UNIT,TABLE,ADDRESS,TYPE,ORDER,VALUE ...
"""
import sys

from pymodbus.constants import Endian
from pymodbus.datastore import ModbusServerContext, ModbusSlaveContext, ModbusSparseDataBlock
from pymodbus.payload import BinaryPayloadBuilder
from pymodbus.server import StartSerialServer
from pymodbus.transaction import ModbusRtuFramer

# Order of the bytes within a word, and of the words.
ORDERS = {
    "ABCD": (Endian.Big, Endian.Big),
    "CDAB": (Endian.Big, Endian.Little),
    "BADC": (Endian.Little, Endian.Big),
    "DCBA": (Endian.Little, Endian.Little),
}

units = {}
for text in sys.argv[2:]:
    unit, table, address, kind, order, value = text.split(",")
    byteorder, wordorder = ORDERS[order or "ABCD"]
    builder = BinaryPayloadBuilder(byteorder=byteorder, wordorder=wordorder)
    add = {
        "int16": builder.add_16bit_int,
        "uint16": builder.add_16bit_uint,
        "int32": builder.add_32bit_int,
        "uint32": builder.add_32bit_uint,
        "float32": builder.add_32bit_float,
    }[kind]
    add(float(value) if kind == "float32" else int(value))
    payload = b"".join(builder.build())
    words = [payload[i] << 8 | payload[i + 1] for i in range(0, len(payload), 2)]
    for i, word in enumerate(words):
        units.setdefault(int(unit), {"hr": {}, "ir": {}})[table][int(address) + i] = word

slaves = {
    unit: ModbusSlaveContext(
        hr=ModbusSparseDataBlock(tables["hr"] or {65535: 0}),
        ir=ModbusSparseDataBlock(tables["ir"] or {65535: 0}),
        zero_mode=True,
    )
    for unit, tables in units.items()
}
StartSerialServer(
    context=ModbusServerContext(slaves=slaves, single=False),
    framer=ModbusRtuFramer,
    port=sys.argv[1],
    baudrate=19200,
    ignore_missing_slaves=True,
)
