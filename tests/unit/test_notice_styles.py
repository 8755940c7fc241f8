"""Styles in which laws, gazettes, warnings, orders and permits print positions, each read or asked about.

All places are invented; only the manner of printing is that of published texts (from memory). Beside every
text stand its corners, typed apart as degrees, minutes, seconds and letter, or the line that must be asked
about. Numbers are compared as fractions: a style is either read exactly or asked about, never nearly right.
"""

# ruff: noqa: E501  (rows stand as long as they are printed)
from __future__ import annotations

from fractions import Fraction

import pytest

from towzone.errors import InputError
from towzone.notices.areas import read_areas
from towzone.notices.convert import convert_notice
from towzone.notices.corners import read_corners
from towzone.notices.markup import without_markup
from towzone.notices.points import read_pieces
from towzone.notices.questions import Asker
from towzone.notices.remarks import Remarks

BOX = "54 30 N 8 10 W, 54 30 N 7 50 W, 54 40 N 7 50 W, 54 40 N 8 10 W"
SOUTH = "33 30 15 S 151 20 30 E, 33 30 15 S 151 40 E, 33 45 30 S 151 40 E, 33 45 30 S 151 20 30 E"
DECIMAL = "41.25 N 9.5 W, 41.25 N 9.125 W, 41.0625 N 9.125 W, 41.0625 N 9.5 W"

READ = {
    "gazette table, DMS with two apostrophes": (
        "SCHEDULE\nPoint\tLatitude (S)\tLongitude (E)\n1\t33°30'15''\t151°20'30''\n2\t33°30'15''\t151°40'00''\n"
        "3\t33°45'30''\t151°40'00''\n4\t33°45'30''\t151°20'30''\n",
        {}, [SOUTH],
    ),
    "table with letters in cells and quotes": (
        "Point | Latitude | Longitude\nA | 33° 30' 15\" S | 151° 20' 30\" E\nB | 33° 30' 15\" S | 151° 40' 00\" E\n"
        "C | 33° 45' 30\" S | 151° 40' 00\" E\nD | 33° 45' 30\" S | 151° 20' 30\" E\n",
        {}, [SOUTH],
    ),
    "markdown table in decimal degrees with N and W in the head": (
        "| Vertex | Lat (°N) | Long (°W) |\n|---|---:|---:|\n| V1 | 41.2500 | 9.5000 |\n| V2 | 41.2500 | 9.1250 |\n"
        "| V3 | 41.0625 | 9.1250 |\n| V4 | 41.0625 | 9.5000 |\n",
        {}, [DECIMAL],
    ),
    "csv with signed decimals": (
        "id,latitude,longitude\r\n1,41.25,-9.5\r\n2,41.25,-9.125\r\n3,41.0625,-9.125\r\n4,41.0625,-9.5\r\n",
        {}, [DECIMAL],
    ),
    "csv with longitude first and semicolons": (
        "point;longitude;latitude\n1;-9.5;41.25\n2;-9.125;41.25\n3;-9.125;41.0625\n4;-9.5;41.0625\n",
        {}, [DECIMAL],
    ),
    "csv with semicolons and decimal commas": (
        "point;latitude;longitude\n1;41,25;-9,5\n2;41,25;-9,125\n3;41,0625;-9,125\n4;41,0625;-9,5\n",
        {}, [DECIMAL],
    ),
    "csv in quotes": (
        '"Point","Latitude","Longitude"\n"1","54° 30.0\' N","008° 10.0\' W"\n"2","54° 30.0\' N","007° 50.0\' W"\n'
        '"3","54° 40.0\' N","007° 50.0\' W"\n"4","54° 40.0\' N","008° 10.0\' W"\n',
        {}, [BOX],
    ),
    "navigational warning": (
        "NAVAREA XX 123/26\nCABLE OPERATIONS BY VESSEL IN AREA BOUNDED BY\n54-30.0N 008-10.0W, 54-30.0N 007-50.0W,\n"
        "54-40.0N 007-50.0W AND 54-40.0N 008-10.0W.\nCANCEL THIS MSG 012359Z DEC 26.\n",
        {}, [BOX],
    ),
    "navigational warning with run letters": (
        "1. GUNNERY EXERCISES 0800Z TO 1600Z DAILY 11 THRU 14 AUG IN AREA BOUND BY\nA. 54-30.00N 008-10.00W\n"
        "B. 54-30.00N 007-50.00W\nC. 54-40.00N 007-50.00W\nD. 54-40.00N 008-10.00W\n2. CANCEL THIS MSG 141700Z AUG 26.\n",
        {}, [BOX],
    ),
    "degrees, minutes and directions in words": (
        "The area bounded by a line joining: 54 degrees 30 minutes North, 8 degrees 10 minutes West;\n"
        "54 degrees 30 minutes North, 7 degrees 50 minutes West;\n54 degrees 40 minutes North, 7 degrees 50 minutes West;"
        "\n54 degrees 40 minutes North, 8 degrees 10 minutes West.\n",
        {}, [BOX],
    ),
    "hyphens between words": (
        "(1) 54 deg 30.0 min N, 008 deg 10.0 min W\n(2) 54 deg 30.0 min N, 007 deg 50.0 min W\n"
        "(3) 54 deg 40.0 min N, 007 deg 50.0 min W\n(4) 54 deg 40.0 min N, 008 deg 10.0 min W\n",
        {}, [BOX],
    ),
    "lat. and long. before the numbers": (
        "a) Lat. 54° 30' N., Long. 8° 10' W.\nb) Lat. 54° 30' N., Long. 7° 50' W.\n"
        "c) Lat. 54° 40' N., Long. 7° 50' W.\nd) Lat. 54° 40' N., Long. 8° 10' W.\n",
        {}, [BOX],
    ),
    "latitude and longitude after the numbers": (
        "beginning at a point 54°30' north latitude and 8°10' west longitude; thence to 54°30' north latitude and\n"
        "7°50' west longitude; thence to 54°40' north latitude and 7°50' west longitude; thence to 54°40' north\n"
        "latitude and 8°10' west longitude; thence to the point of beginning.\n",
        {}, [BOX],
    ),
    "in latitude ... and longitude": (
        "commencing at a point in latitude 33° 30' 15\" S and longitude 151° 20' 30\" E, thence east to a point in\n"
        "latitude 33° 30' 15\" S and longitude 151° 40' 00\" E, thence south to a point in latitude 33° 45' 30\" S and\n"
        "longitude 151° 40' 00\" E, thence west to a point in latitude 33° 45' 30\" S and longitude\n"
        "151° 20' 30\" E, thence north to the point of commencement.\n",
        {}, [SOUTH],
    ),
    "two points a line": (
        "54°30'.0N 008°10'.0W   54°30'.0N 007°50'.0W\n54°40'.0N 007°50'.0W   54°40'.0N 008°10'.0W\n",
        {}, [BOX],
    ),
    "notice to mariners, decimals behind the minute mark": (
        "(a) 54° 30'·00N., 8° 10'·00W.\n(b) 54° 30'·00N., 7° 50'·00W.\n(c) 54° 40'·00N., 7° 50'·00W.\n"
        "(d) 54° 40'·00N., 8° 10'·00W.\n",
        {}, [BOX],
    ),
    "one point over two lines": (
        "1.\n54°30'N\n8°10'W\n2.\n54°30'N\n7°50'W\n3.\n54°40'N\n7°50'W\n4.\n54°40'N\n8°10'W\n",
        {}, [BOX],
    ),
    "ordinal and masculine signs for the degree": (
        "1 54º30.0'N 008˚10.0'W\n2 54º30.0'N 007˚50.0'W\n3 54º40.0'N 007˚50.0'W\n4 54º40.0'N 008˚10.0'W\n",
        {}, [BOX],
    ),
    "non-breaking and thin spaces, byte order mark": (
        "\ufeff54°\u00a030′\u202fN,\u00a08°\u00a010′\u202fW\r\n54°\u00a030′\u202fN,\u00a07°\u00a050′\u202fW\r\n"
        "54°\u00a040′\u202fN,\u00a07°\u00a050′\u202fW\r\n54°\u00a040′\u202fN,\u00a08°\u00a010′\u202fW\r\n",
        {}, [BOX],
    ),
    "html entities": (
        "54&deg;30&#39;N&nbsp;8&deg;10&#39;W\n54&deg;30&#39;N&nbsp;7&deg;50&#39;W\n54&#176;40&prime;N&nbsp;7&#176;50&prime;W\n"
        "54&#176;40&prime;N&nbsp;8&#176;10&prime;W\n",
        {}, [BOX],
    ),
    "html table": (
        "<table>\n<tr><th>Point</th><th>Latitude</th><th>Longitude</th></tr>\n"
        "<tr><td>1</td><td>54° 30' N</td><td>8° 10' W</td></tr>\n<tr><td>2</td><td>54° 30' N</td><td>7° 50' W</td></tr>\n"
        "<tr><td>3</td><td>54° 40' N</td><td>7° 50' W</td></tr>\n<tr><td>4</td><td>54° 40' N</td><td>8° 10' W</td></tr>\n"
        "</table>\n",
        {}, [BOX],
    ),
    "areas with letters": (
        "Area A\n54°30'N 8°10'W\n54°30'N 7°50'W\n54°40'N 7°50'W\n54°40'N 8°10'W\nArea B\n41.25°N 9.5°W\n41.25°N 9.125°W\n"
        "41.0625°N 9.125°W\n41.0625°N 9.5°W\n",
        {}, [BOX, DECIMAL],
    ),
    "zones in roman numbers": (
        "(i) Northern Ground:\n54°30'N 8°10'W; 54°30'N 7°50'W; 54°40'N 7°50'W; 54°40'N 8°10'W\n(ii) Southern Ground:\n"
        "41.25°N 9.5°W; 41.25°N 9.125°W; 41.0625°N 9.125°W; 41.0625°N 9.5°W\n",
        {}, [BOX, DECIMAL],
    ),
    "cable corridor": (
        "The export cable runs between the following positions (WGS 84):\nRPL 1: 54°30.000'N, 008°10.000'W\n"
        "RPL 2: 54°30.000'N, 007°50.000'W\nRPL 3: 54°40.000'N, 007°50.000'W\nRPL 4: 54°40.000'N, 008°10.000'W\n",
        {"kind": "cable"}, [BOX],
    ),
    "wreck with a radius": (
        "Wreck, least depth 23 m, in position 54° 30'.0 N., 8° 10'.0 W. A circle of radius 300 metres is to be avoided.\n",
        {"kind": "obstruction", "radius": "300m"}, ["54 30 N 8 10 W"],
    ),
    "page head between rows": (
        "1. 54°30′N 8°10′W\n2. 54°30′N 7°50′W\n12.8.2026 EN Official Journal of the European Union L 210/17\n"
        "3. 54°40′N 7°50′W\n4. 54°40′N 8°10′W\n",
        {}, [BOX],
    ),
    "dates, amounts and times nearby": (
        "Permit No. 4711/26 of 3.7.2026 (fee 1,250.00). Works from 08:00 to 17:30 UTC, 1 July 2026 to 31 August 2026,"
        " at depths of 12.5 to 40.25 m:\n54°30'N 8°10'W\n54°30'N 7°50'W\n54°40'N 7°50'W\n54°40'N 8°10'W\n"
        "Vessels keep 500 m away; call VHF 16 or 72. Tel. 555 01234. Fine up to 10,000.00.\n",
        {}, [BOX],
    ),
    "across 180": (
        "1. 17° 30' S 179° 45' E\n2. 17° 30' S 179° 50' W\n3. 17° 50' S 179° 50' W\n4. 17° 50' S 179° 45' E\n",
        {}, ["17 30 S 179 45 E, 17 30 S 179 50 W, 17 50 S 179 50 W, 17 50 S 179 45 E"],
    ),
    "slashes": (
        "54°30'N/8°10'W\n54°30'N/7°50'W\n54°40'N/7°50'W\n54°40'N/8°10'W\n",
        {}, [BOX],
    ),
    "letters in front": (
        "N54 30.0 W008 10.0\nN54 30.0 W007 50.0\nN54 40.0 W007 50.0\nN54 40.0 W008 10.0\n",
        {}, [BOX],
    ),
    "letters in front with marks": (
        "N 54°30'00\" W 008°10'00\"\nN 54°30'00\" W 007°50'00\"\nN 54°40'00\" W 007°50'00\"\nN 54°40'00\" W 008°10'00\"\n",
        {}, [BOX],
    ),
    "packed": (
        "543000N 0081000W - 543000N 0075000W - 544000N 0075000W - 544000N 0081000W - 543000N 0081000W\n",
        {}, [BOX],
    ),
    "degrees and minutes in columns of their own": (
        "Point  Latitude N      Longitude W\n       deg  min        deg  min\n1      54   30.00      008  10.00\n"
        "2      54   30.00      007  50.00\n3      54   40.00      007  50.00\n4      54   40.00      008  10.00\n",
        {}, [BOX],
    ),
    "degrees, minutes and seconds in columns of their own": (
        "Latitude (South) Longitude (East)\nDeg Min Sec Deg Min Sec\n33 30 15 151 20 30\n33 30 15 151 40 00\n"
        "33 45 30 151 40 00\n33 45 30 151 20 30\n",
        {}, [SOUTH],
    ),
    "longitude column first": (
        "Longitude Latitude\n8°10'W 54°30'N\n7°50'W 54°30'N\n7°50'W 54°40'N\n8°10'W 54°40'N\n",
        {}, [BOX],
    ),
    "decimal degrees with degree signs and signs": (
        "lat 41.25° lon -9.5°\nlat 41.25° lon -9.125°\nlat 41.0625° lon -9.125°\nlat 41.0625° lon -9.5°\n",
        {}, [DECIMAL],
    ),
    "true minus signs": (
        "Latitude, Longitude\n41.2500, −9.5000\n41.2500, −9.1250\n41.0625, −9.1250\n41.0625, −9.5000\n",
        {}, [DECIMAL],
    ),
    "south-western signs": (
        "Lat Long\n-41.25 -9.5\n-41.25 -9.125\n-41.0625 -9.125\n-41.0625 -9.5\n",
        {}, [DECIMAL.replace("N", "S")],
    ),
    "footnotes behind coordinates": (
        "54°30'N 8°10'W (1)\n54°30'N 7°50'W (2)\n54°40'N 7°50'W\n54°40'N 8°10'W\n(1) As amended.\n(2) Buoy.\n",
        {}, [BOX],
    ),
    "corner names": (
        "NE corner: 54°40'N 7°50'W\nNW corner: 54°40'N 8°10'W\nSW corner: 54°30'N 8°10'W\nSE corner: 54°30'N 7°50'W\n",
        {}, ["54 40 N 7 50 W, 54 40 N 8 10 W, 54 30 N 8 10 W, 54 30 N 7 50 W"],
    ),
    "straight lines connecting in the order listed, with point names and a closing row": (
        "The area is defined by straight lines connecting the following points in the order stated:\n"
        "Point N. lat. W. long.\nGB1 54°30.0' 8°10.0'\nGB2 54°30.0' 7°50.0'\nGB3 54°40.0' 7°50.0'\nGB4 54°40.0' 8°10.0'\n"
        "GB1 54°30.0' 8°10.0'\n",
        {}, [BOX],
    ),
    "seconds with decimals": (
        "1) 33°30'15.00\"S, 151°20'30.00\"E\n2) 33°30'15.00\"S, 151°40'00.00\"E\n3) 33°45'30.00\"S, 151°40'00.00\"E\n"
        "4) 33°45'30.00\"S, 151°20'30.00\"E\n",
        {}, [SOUTH],
    ),
    "turbines as single rows": (
        "Turbine T01 54.50000 -8.25000\nTurbine T02 54.50000 -8.12500\nTurbine T03 54.62500 -8.12500\n",
        {"order": "lat-lon"}, ["54.5 N 8.25 W, 54.5 N 8.125 W, 54.625 N 8.125 W"],
    ),
    "half-width between curly quotes": (
        "54° 30’ 00” N, 8° 10’ 00” W\n54° 30’ 00” N, 7° 50’ 00” W\n54° 40’ 00” N, 7° 50’ 00” W\n54° 40’ 00” N, 8° 10’ 00” W\n",
        {}, [BOX],
    ),
    "dotted leaders": (
        "1 ........ 54°30'N ........ 8°10'W\n2 ........ 54°30'N ........ 7°50'W\n3 ........ 54°40'N ........ 7°50'W\n"
        "4 ........ 54°40'N ........ 8°10'W\n",
        {}, [BOX],
    ),
    "underscored points": (
        "P_1: 54°30'N 8°10'W\nP_2: 54°30'N 7°50'W\nP_3: 54°40'N 7°50'W\nP_4: 54°40'N 8°10'W\n",
        {}, [BOX],
    ),
    "json-like": (
        "{lat: 41.25, lon: -9.5}\n{lat: 41.25, lon: -9.125}\n{lat: 41.0625, lon: -9.125}\n{lat: 41.0625, lon: -9.5}\n",
        {}, [DECIMAL],
    ),
    "hole": (
        "Bounded by 54°30'N 8°10'W; 54°30'N 7°50'W; 54°40'N 7°50'W; 54°40'N 8°10'W;\nexcluding the area bounded by\n"
        "54°33'N 8°05'W; 54°33'N 7°55'W; 54°37'N 7°55'W\n",
        {}, [BOX + " | 54 33 N 8 5 W, 54 33 N 7 55 W, 54 37 N 7 55 W"],
    ),
    "points named by letters up to E": (
        "A 54°30'N 8°10'W\nB. 54°30'N 7°50'W\nC: 54°40'N 7°50'W\nD 54-40.0N 008-00.0W\nE 54°40'N 8°10'W\n",
        {}, ["54 30 N 8 10 W, 54 30 N 7 50 W, 54 40 N 7 50 W, 54 40 N 8 W, 54 40 N 8 10 W"],
    ),
    "points named by letters up to E, letters in the head": (
        "Point Latitude N Longitude W\nB 54°30' 8°10'\nC 54°30' 7°50'\nD 54°40' 7°50'\nE 54°40' 8°10'\n",
        {}, [BOX],
    ),
    "chainage before and depth behind bare decimals": (
        "KP,Latitude,Longitude,Depth\n0.000,41.25,-9.5,12.5\n1.250,41.25,-9.125,13.75\n2.5,41.0625,-9.125,14.0\n"
        "3.5,41.0625,-9.5,20.1\n",
        {}, [DECIMAL],
    ),
    "depth behind bare decimals, parted by spaces": (
        "Point Latitude Longitude Depth\n1 41.25000 -9.50000 12.5\n2 41.25000 -9.12500 13.75\n"
        "3 41.06250 -9.12500 14.25\n4 41.06250 -9.50000 9\n",
        {}, [DECIMAL],
    ),
    "minutes in columns of their own under one head": (
        "|Point|Latitude (S)||Longitude (E)||\n|1|33|30.25|151|20.5|\n|2|33|30.25|151|40.0|\n|3|33|45.5|151|40.0|\n"
        "|4|33|45.5|151|20.5|\n",
        {}, [SOUTH],
    ),
    "decimal degrees repeated in a last column": (
        "Point | Latitude | Longitude | Decimal\n1 | 54°30'N | 8°10'W | 54.5000, -8.1667\n"
        "2 | 54°30'N | 7°50'W | 54.5000, -7.8333\n3 | 54°40'N | 7°50'W | 54.6667, -7.8333\n"
        "4 | 54°40'N | 8°10'W | 54.6667, -8.1667\n",
        {}, [BOX],
    ),
    "area named in the first column": (
        "Area,Point,Latitude,Longitude\nNorth,1,41.25,-9.5\nNorth,2,41.25,-9.125\nNorth,3,41.0625,-9.125\n"
        "South,1,40.25,-9.5\nSouth,2,40.25,-9.125\nSouth,3,40.0625,-9.125\n",
        {}, ["41.25 N 9.5 W, 41.25 N 9.125 W, 41.0625 N 9.125 W", "40.25 N 9.5 W, 40.25 N 9.125 W, 40.0625 N 9.125 W"],
    ),
    "raised degree marks": (
        "54<sup>o</sup>30'N 8<sup>o</sup>10'W<br>\n54<sup>0</sup>30'N 7<sup>0</sup>50'W<br>\n"
        "54<sup>o</sup>40'N 7<sup>o</sup>50'W<br/>\n54<sup>o</sup>40'N 8<sup>o</sup>10'W\n",
        {}, [BOX],
    ),
    "labels in the row and depth column behind": (
        "No. Latitude Longitude Depth (m)\n1 54°30'N 8°10'W 45.2\n2 54°30'N 7°50'W 47.9\n3 54°40'N 7°50'W 51.0\n4 54°40'N 8°10'W 52\n",
        {}, [BOX],
    ),
}  # fmt: skip

ASKED = {
    "degrees, minutes in named columns parted by commas": (
        "Point,Latitude,,Longitude,\n1,54,30.5,8,10.5\n2,54,30.5,7,50.5\n3,54,40.5,7,50.5\n", {}, "line 2",
    ),
    "letters at the beginning of the next line": (
        "54°30.0'\nN 008°10.0'\nW\n54°30.0'\nN 007°50.0'\nW\n54°40.0'\nN 007°50.0'\nW\n", {}, "line 1",
    ),
    "brackets and commas among words": (
        "Polygon: (41.25, -9.5), (41.25, -9.125), (41.0625, -9.125)\n", {"order": "lat-lon"}, "line 1",
    ),
    "letter l in the minutes of a warning": ("54-3l.5N 008-10.0W\n54-30.0N 007-50.0W\n54-40.0N 007-50.0W\n", {}, "line 1"),
    "letter l in the last minutes": ("54°30'N 8°1l'W\n54°30'N 7°50'W\n54°40'N 7°50'W\n", {}, "line 1"),
    "letter l in decimals": ("54.3l25N 8.2500W\n54.3125N 8.2525W\n54.3525N 8.2525W\n", {}, "line 1"),
    "letter l before the degrees": ("l4°30'N 8°10'W\n14°30'N 7°50'W\n14°40'N 7°50'W\n", {}, "line 1"),
    "letter O in packed numbers": ("543O00N 0081000W\n543000N 0075000W\n544000N 0075000W\n", {}, "line 1"),
    "letter O in spaced numbers": ("54 3O.5 N 008 10.0 W\n54 30.0 N 007 50.0 W\n54 40.0 N 007 50.0 W\n", {}, "line 1"),
    "a line that ends within a number": (
        "AREA 54-\n30.0N 008-10.0W, 54-30.0N 007-50.0W, 54-40.0N 007-50.0W\n", {}, "line 2",
    ),
    "numbers in words": (
        "fifty-four degrees thirty minutes north, eight degrees ten minutes west\n54°30'N 7°50'W\n54°40'N 7°50'W\n"
        "54°40'N 8°10'W\n", {}, "line 1",
    ),
    "letters d and m for the marks": (
        "54d30m00sN 8d10m00sW\n54°30'N 7°50'W\n54°40'N 7°50'W\n54°40'N 8°10'W\n", {}, "line 1",
    ),
    "letter O for a zero": ("54°3O'N 8°10'W\n54°30'N 7°50'W\n54°40'N 7°50'W\n54°40'N 8°10'W\n", {}, "line 1"),
    "letter l for a one": ("54°30'N 8°l0'W\n54°30'N 7°50'W\n54°40'N 7°50'W\n54°40'N 8°10'W\n", {}, "line 1"),
    "letter I for a one, decimal": ("54.50N 8.I0W\n54.75N 7.50W\n54.40N 7.75W\n54.40N 8.10W\n", {}, "line 1"),
    "S for a five": ("54°30'N 8°10'W\n54°30'N 7°S0'W\n54°40'N 7°50'W\n54°40'N 8°10'W\n", {}, "line 2"),
    "minutes of 75": ("54°30'N 8°10'W\n54°75'N 7°50'W\n54°40'N 7°50'W\n54°40'N 8°10'W\n", {}, "line 2"),
    "latitude alone": ("54°30'N 8°10'W\n54°30'N 7°50'W\n54°40'N\n54°40'N 8°10'W\n", {}, "line 3"),
    "longitude alone": ("54°30'N 8°10'W\n54°30'N 7°50'W\n7°50'W\n54°40'N 8°10'W\n", {}, "line 3"),
    "columns swapped in the letters": ("54°30'N 8°10'N\n54°30'N 7°50'W\n54°40'N 7°50'W\n54°40'N 8°10'W\n", {}, "line 1"),
    "decimals without letters or head": ("41.25 9.5\n41.25 9.125\n41.0625 9.125\n", {}, "line 1"),
    "latitude over 90": ("1. 94°30'N 8°10'W\n2. 54°30'N 7°50'W\n3. 54°40'N 7°50'W\n", {}, "line 1"),
    "a corner on the coast": (
        "from the coast at 54°30'N, thence west to 54°30'N 8°10'W, thence north to 54°40'N 8°10'W, thence to the coast"
        " at 54°40'N\n", {}, "line 1",
    ),
    "a parallel between": (
        "54°30'N 8°10'W, thence east along the parallel of 54°30'N to 7°50'W,\nthence 54°40'N 7°50'W, 54°40'N 8°10'W\n",
        {}, "line 1",
    ),
    "degree mark lost": ("5430'N 8°10'W\n54°30'N 7°50'W\n54°40'N 7°50'W\n54°40'N 8°10'W\n", {}, "line 1"),
    "degree mark read as zero": ("54030'N 8°10'W\n54°30'N 7°50'W\n54°40'N 7°50'W\n54°40'N 8°10'W\n", {}, "line 1"),
    "space within the number": ("54°30'N 8°1 0'W\n54°30'N 7°50'W\n54°40'N 7°50'W\n54°40'N 8°10'W\n", {}, "line 1"),
    "distance and bearing": (
        "54°30'N 8°10'W; thence 3 nautical miles in a direction of 045° true; thence 54°40'N 7°50'W; 54°40'N 8°10'W\n",
        {}, "line 1",
    ),
    "old datum": ("54°30'N 8°10'W\n54°30'N 7°50'W\n54°40'N 7°50'W\nPositions on European Datum 1950.\n", {}, "line 4"),
}  # fmt: skip


def degrees(words):
    """'54 30 15 N' as signed degrees, by a way of its own."""
    *numbers, letter = words
    size = sum((Fraction(number) / 60**place for place, number in enumerate(numbers)), Fraction(0))
    return -size if letter in "SW" else size


def typed(corner):
    words = corner.split()
    cut = next(at for at, word in enumerate(words) if word in "NS") + 1
    return degrees(words[:cut]), degrees(words[cut:])


def given(options):
    properties = {"kind": "closed_area", "edges": "rhumb"}
    properties |= {key: value for key, value in options.items() if key != "order"}
    return properties, options.get("order")


@pytest.mark.parametrize("style", READ)
def test_style_is_read_to_the_printed_numbers(style):
    text, options, areas = READ[style]
    properties, order = given(options)
    result = convert_notice(text, properties, order=order)
    asker, remarks = Asker({}), Remarks()
    clean = without_markup(text.replace("\r\n", "\n").replace("\ufeff", ""))
    found = read_areas(read_corners(read_pieces(clean, "notice"), order, asker, remarks), asker, remarks)

    assert [question.text for question in result.questions] == []
    assert [
        [[(corner.lat_deg, corner.lon_deg) for corner in ring.corners] for ring in area.rings]
        for area in found
    ] == [[[typed(corner) for corner in ring.split(",")] for ring in area.split("|")] for area in areas]
    assert len(result.drafts) == len(areas)


@pytest.mark.parametrize("style", ASKED)
def test_style_that_cannot_be_read_for_sure_is_asked_about(style):
    text, options, line = ASKED[style]
    properties, order = given(options)
    result = convert_notice(text, properties, order=order)

    assert result.drafts == ()
    assert line in [question.where for question in result.questions]


def test_grid_coordinates_are_refused():
    text = "Easting 412345.6 Northing 6041234.5\nEasting 415000.0 Northing 6041234.5\n"
    with pytest.raises(InputError, match="no coordinates"):
        convert_notice(text, {"kind": "closed_area", "edges": "rhumb"})
