"""A question as it is typed: what each word is taken for, and what is said not to be understood."""

from __future__ import annotations

import ast
import random
from contextlib import suppress
from itertools import pairwise
from pathlib import Path

import pytest

from kb.cli.main import main
from kb.desk.choose import grammar
from kb.desk.choose.choose import choose
from kb.desk.choose.grammar import MOST_BESIDE, MOST_NEAR, as_borne
from kb.desk.choose.lexicon import GLUES, LINKS, SIGNS, WHICH, Spoken
from kb.desk.choose.may_be import components, with_signs
from kb.desk.choose.spoken import spoken
from kb.desk.choose.spoken_tape import seen
from kb.desk.choose.words import first_in_short
from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.model.question import Question

# As it is typed, what is given back, and what is taken; what a row does not name is not looked at.
TAKEN = """
# Words of the trade as one says them. Common practice, no source. Fillers are passed over, signs are signs,
# and only what fills nothing is given back.
# "Aged" says nothing more beside the stage that is seen, in either order.
aged yellow oily rubber-based tape over letterpress print on wood-pulp paper | |
    adhesive=natural-rubber-resin stage=oily medium=letterpress-oil paper=paper-woodpulp signs=
oily, aged rubber-type tape on letterpress | | adhesive=natural-rubber-resin stage=oily
    medium=letterpress-oil signs=
# Known, but the blank is filled: nothing is closer to it than itself.
oily fresh rubber tape on letterpress | fresh (a second stage) | adhesive=natural-rubber-resin stage=oily
    medium=letterpress-oil signs=
old masking tape, adhesive sticky, on newsprint with ballpoint and pencil notes | | tape=masking-rubber
    stage=oily medium=ballpoint paper=paper-woodpulp signs=
gummed strip over hand coloring on rag paper | | medium=watercolour paper=paper-rag signs=water-adhesive=slimy
# Yellowed and not only yellow: fresh tape is out.
yellowed tape over graphite | | medium=graphite stage=aged signs=adhesive-colour=amber
old clear tape over graphite | | medium=graphite stage=aged signs=colour=clear
clear tape on an old map, graphite | | medium=graphite stage= signs=colour=clear
glue drip on silver gelatin print | | carrier=none-transfer medium=gelatin-silver signs=
strapping tape on coated poster | | tape=filament paper=paper-coated signs=
PVC tape on a child's drawing, chromolitho | | tape=pvc-insulating medium=lithographic signs=
wheat starch paste lining on etching, cotton rag | | adhesive=starch-dextrin medium=intaglio
    paper=paper-rag signs=
adhesive plaster on hymn book, ruled lines | | tape=cloth-surgical medium=ruled-lines signs=
tape on a gelatin photograph | | medium=gelatin-silver signs=
goo over iron gall ink | | medium=iron-gall signs=hardness=soft
sticky residue over toner | | carrier=none-transfer medium=toner signs=tack=strong
colored pencil and watercolor under duct tape | | tape=cloth-pe-coated medium=coloured-pencil signs=
glue strip on a print | print (which?) | tape=transfer signs=
brittle glue over red pencil | | medium=coloured-pencil signs=
sticky glue over red pencil | glue (which?) | medium=coloured-pencil signs=tack=strong
matte tape over typed notes | | medium=typewriter signs=gloss=frosted
kraft tape on a map with watercolour wash | | carrier=flat-paper-kraft medium=watercolour signs=
fresh clear packing tape over a laser print | | tape=bopp-hotmelt stage=fresh medium=toner signs=
brittle rubber adhesive, carrier gone, on rag paper | | adhesive=natural-rubber-resin stage=crosslinked
    carrier=none-transfer signs=
hard residue on a newspaper clipping | | stage=crosslinked paper=paper-woodpulp signs=
dried out rubber adhesive on a poster | | stage=crosslinked adhesive=natural-rubber-resin signs=
oily rubber tape over letterpress on wood pulp paper | | adhesive=natural-rubber-resin stage=oily
    medium=letterpress-oil paper=paper-woodpulp signs=
rubber stamp under masking tape | | tape=masking-rubber medium=stamp-pad signs=
wheat paste over pen and ink | pen (which?) | adhesive=starch-dextrin signs=
acrylic tape on paper | paper (which?) | adhesive=acrylic signs=
surgical tape on the back of a parchment deed with iron gall ink and sealing wax | | tape=cloth-surgical
    medium=iron-gall paper=parchment signs=
albumen print stuck down with shellac | | adhesive=shellac-glue medium=albumen-print signs=
glue stick on a clipping in a scrapbook | | adhesive=glue-stick signs=
masking tape across a varnished wall map | | tape=masking-rubber medium=varnish signs=
methyl cellulose on bare rag paper | | adhesive=cellulose-ether medium=bare-paper paper=paper-rag signs=
# Such tape is called so whatever its age: nothing is seen of this one.
yellow stain from sticky tape on thermal paper | | medium=thermal-fax carrier=none-transfer
    signs=adhesive-colour=amber
# A tape has its carrier, so what it lies on is the paper.
document repair tape over pencil on glassine | | carrier=glassine-thin-paper paper=paper-glassine signs=
# The same said twice fills nothing more, and is no riddle either.
gooey residue, carrier gone, on blotting paper | | carrier=none-transfer paper=paper-blotting
    signs=hardness=soft
brown plastic tape over graphite | | medium=graphite signs=colour=tan,made-of=film
duct tape over dyeline, zebra | zebra | tape=cloth-pe-coated medium=diazo signs=
# "No ballpoint" barred alcohols, and "not acrylic" was answered for acrylic.
# What is denied is given back whole, and what it denies is not taken.
no ballpoint, masking tape over graphite | no ballpoint | medium=graphite
tape on iron gall ink, not acrylic | not acrylic | adhesive=
not rubber cement, animal glue on etching | not rubber cement | adhesive=animal-glue
tape on iron gall ink, not water-soluble | not water-soluble | medium=iron-gall
no ink, masking tape on rag paper | | medium=bare-paper
without carrier, rubber adhesive | | carrier=none-transfer
# A tape has its carrier, and one tape is asked about.
masking tape on kraft paper, toner | kraft paper (a second carrier) | carrier=crepe-paper
silk gauze, masking tape, toner | silk gauze (a second carrier) | carrier=crepe-paper
tracing linen, masking tape | | carrier=crepe-paper paper=paper-tracing-cloth
masking tape, cloth tape | cloth tape (a second tape) | carrier=crepe-paper
masking tape, rubber cement | rubber cement (a second adhesive) | adhesive=natural-rubber-resin
# Of several glues that share a name one that is named decides, before it and behind it.
gum and PVA, rag paper | gum (a second adhesive) | adhesive=pvac-emulsion
PVA glue, gum, rag paper | gum (a second adhesive) | adhesive=pvac-emulsion
PVA, hot melt, rag paper | hot melt (a second adhesive) | adhesive=pvac-emulsion
# A name that says too much is answered by one of its sort only.
typescript with signature, masking tape | signature (which?) | medium=typewriter
photocopy, handwritten notes, masking tape | handwritten (which?) | medium=toner
photograph with ink notes, masking tape | ink (which?) |
signature in ballpoint, masking tape | | medium=ballpoint
# The paper's age is not that of the glue, and hide glue is brittle from its first day.
PVA, aged newsprint | | stage=
masking tape on fresh newsprint | | stage=
brittle animal glue on etching | | stage=
paste on verso of an etching, hinges brittle | | stage=
brittle hot melt on a brochure | | stage=crosslinked
sticky residue from a label | | stage=
sticky masking tape | | stage=oily
# Two-sided of the tape, and of the sheet.
two-sided tape over toner | | tape=polyester-double back_media=
double-sided plan, masking tape, toner | | back_media=toner
# Several bear the name, or another thing bears a part of it.
masking tape over pencil and wash | | also_media=bistre-sepia,carbon-ink,watercolour
masking tape over watercolour wash | | medium=watercolour also_media=
masking tape on an inkjet print | | also_media=inkjet-pigment
masking tape on a Japanese woodcut | | medium=woodblock-colour also_media=
masking tape over green pencil | | medium=coloured-pencil
masking tape, offset litho | | medium=lithographic also_media=
coffee stain, masking tape on toner | coffee-stain | carrier=crepe-paper
coffee stains on iron gall | coffee-stains | carrier=
gelatine silver photograph, masking tape | | medium=gelatin-silver
coloured lithograph, masking tape | coloured (which?) | medium=lithographic
iron gall, blue ink, adhesive corner | | signs=
electricians tape on a plan, pencil | | tape=pvc-insulating
electrician’s tape on a plan, pencil | | tape=pvc-insulating
# None of these was understood, and "sticky" of a sticky note was taken for what the tape shows.
double-sided foam tape over blue ballpoint | | carrier=plastic-foam medium=ballpoint
mounting squares behind a silverpoint drawing | | carrier=plastic-foam medium=metalpoint
foam pads, carrier gone, metalpoint | | carrier=none-transfer medium=metalpoint
tintype photograph, gummed tape | | medium=wet-collodion-plate also_media=
ferrotype with rubber cement | | medium=wet-collodion-plate
cyanotype photograph, masking tape | | medium=blueprint also_media=
typing correction fluid, masking tape | | medium=correction-fluid also_media=
opaque white on india ink | | medium=correction-fluid also_media=gouache,carbon-ink
sticky note on iron gall ink | | tape=label-acrylic medium=iron-gall
chewing gum on offset litho | | adhesive=synthetic-rubber medium=lithographic
laser-printed letter with masking tape | | medium=toner
poster putty on offset litho | | adhesive=synthetic-rubber medium=lithographic
masking tape over blue-lined paper | paper (which?) | medium=ruled-lines
# Of a map on linen the tape was cloth, and tracing cloth lost its caution that water bleeds.
sepia line drawing, starch paste | | medium=bistre-sepia
sepia line print, starch paste | | medium=diazo
map on linen, rubber adhesive | linen | carrier=
iron gall map laid on canvas, tape | canvas | carrier= paper=
poster mounted on linen, clear tape | linen | carrier= signs=colour=clear
map on linen with iron gall ink, rubber residue | linen | carrier=none-transfer medium=iron-gall
diary bound in muslin, masking tape | bound, muslin | carrier=crepe-paper
linen strip on iron gall | | carrier=cloth
calico hinges on iron gall | | carrier=cloth
linen-backed tape, rubber adhesive | | carrier=cloth
tracing cloth, gummed linen tape, iron gall | | paper=paper-tracing-cloth carrier=gummed-paper-cloth
drafting linen, rubber adhesive | | paper=paper-tracing-cloth carrier=
tracing cloth, rubber adhesive | | paper=paper-tracing-cloth carrier=
rubber adhesive on glassine | | paper=paper-glassine carrier=
glassine strip over ballpoint | | carrier=glassine-thin-paper paper=
wash off glue, animal glue, letterpress | | medium=letterpress-oil also_media=
# Gelatin size became the glue of a rubber tape, and water was proposed for it at 79 %.
masking tape on gelatin sized rag paper | gelatin-sized | adhesive=natural-rubber-resin carrier=crepe-paper
masking tape on animal-glue-sized rag paper | animal-glue-sized | adhesive=natural-rubber-resin
    carrier=crepe-paper
masking tape over casein paint, rag paper | casein-paint | adhesive=natural-rubber-resin carrier=crepe-paper
acrylic tape on a cloth backed map, rag paper | cloth-backed | adhesive=acrylic carrier=
cloth backed tape, rubber adhesive, rag paper | | adhesive=natural-rubber-resin carrier=cloth
cloth-backed tape, rubber adhesive, rag paper | | adhesive=natural-rubber-resin carrier=cloth
casein, ink, rag paper | ink (which?) | adhesive=casein carrier=
# Two glues on one sheet are two questions; a label may be pasted, and parcel tape be acrylic.
masking tape, PVA, rag paper | PVA (a second adhesive) | adhesive=natural-rubber-resin carrier=crepe-paper
paste and rubber cement, rag paper | paste (a second adhesive) | adhesive=natural-rubber-uncured-cement
    carrier=none-transfer
paper label, animal glue, rag paper | | adhesive=animal-glue carrier=flat-paper-kraft
acrylic parcel tape, rag paper | | adhesive=acrylic carrier=bopp
masking tape over acrylic paint, rag paper | | adhesive=natural-rubber-resin carrier=crepe-paper
# What stands behind its noun was lost, and "pencil, copying" was graphite: water was not barred.
pencil, copying, under clear tape | | medium=copying-pencil signs=colour=clear
pencil of copy on newsprint, masking tape | | medium=copying-pencil paper=paper-woodpulp
tape, masking, on newsprint | | tape=masking-rubber paper=paper-woodpulp
tape, double-sided, behind a screenprint | | tape=polyester-double back_media=
tape (duct) on poster | | tape=cloth-pe-coated
silver cloth tape, plastic coated, on poster | silver | tape=cloth-pe-coated
on the drawing is tape of the masking, color ballpoint | | tape=masking-rubber medium=ballpoint
tape of linen gummed on a drawing | | tape=gummed-linen
drawing in pencil on the paper of rags, tape | | medium=graphite paper=paper-rag
pencil (blue), masking tape | | medium=coloured-pencil also_media=
photo, b/w, rubber cement | | medium=gelatin-silver also_media=
engraving colored by hand, animal glue | | medium=intaglio also_media=watercolour
is yellow tape on the photo black and white | | medium=gelatin-silver also_media=
drawing of the paper, lined, with tape, graphite | lined (line?), paper (which?) | paper= medium=graphite
kraft gummed tape on a lithograph | | tape=gummed-paper medium=lithographic
glassine gummed tape on parchment | | tape=gummed-paper-starch paper=parchment
# A dispersion was taken for hot melt, the thin paper of a copy for the tape's; the rest was not known.
EVA emulsion, toner | | adhesive=pvac-emulsion
# The tape that is named within a strip was given back as a second one.
brown gummed paper tape across a mezzotint | | tape=gummed-paper medium=intaglio signs=
EVA hot melt, toner | | adhesive=eva-hot-melt
tape on a carbon copy, thin paper | thin, paper (which?) | carrier= medium=carbon-copy
thin paper tape over graphite | | carrier=glassine-thin-paper
tacky glue over crayon | | adhesive=pvac-emulsion signs=
mouth glue, iron gall | | adhesive=animal-glue
potato starch paste, albumen print | | adhesive=starch-dextrin
latex adhesive, letterpress | | adhesive=natural-rubber-uncured-cement
acetate cement, graphite | | adhesive=cellulose-acetate-laminate
candle drip over ballpoint | | adhesive=wax-mount carrier=
laminating pouch, offset print | | carrier=polyethylene-laminate medium=lithographic
map printed by lithography, masking tape | | medium=lithographic
masking tape on strawboard | | paper=paper-woodpulp
masking tape on museum board | | paper=paper-rag
masking tape on a glossy magazine | | paper=paper-coated
masking tape over walnut ink | | medium=bistre-sepia
# What one does not think it is was taken for it.
I don't think it's rubber; matt tape over ballpoint | not rubber | adhesive= medium=ballpoint
I doubt it is masking tape; paper tape, on newsprint | not masking tape | adhesive= signs=made-of=paper
don't believe this is animal glue, acrylic tape on rag paper | not animal glue | adhesive=acrylic
# What was done before is no way of this test, nor is the tool of the draughtsman.
after lifting the carrier with a warm spatula, sticky residue on letterpress | | method=swab stage=
    carrier=none-transfer medium=letterpress-oil signs=tack=strong
we have removed the film with hot air; sticky adhesive over toner | | method=swab carrier=none-transfer
carrier was lifted with a hot spatula, residue soft, on letterpress | | method=swab carrier=none-transfer
no tape left, brown spot on newsprint | | carrier=none-transfer signs=
masking tape, can be removed with gel, letterpress | can, be | method=gel
masking tape on brush and ink, blue pencil | ink (which?) | method=swab medium=coloured-pencil
brush drawing in india ink, masking tape | | method=swab medium=carbon-ink
masking tape, brush, pen and black ink | pen (which?) | method=brush
tape cut with scalpel, on newsprint | cut | method=swab paper=paper-woodpulp
watercolour drops and tape on etching | | method=swab medium=watercolour also_media=intaglio
masking tape, micropipette drop, etching | | method=drop
methyl cellulose poultice on animal glue, etching | | adhesive=animal-glue method=local-poultice
starch paste on etching, poultice | | adhesive=starch-dextrin method=local-poultice
# Of two tapes one is asked about: of the second was said nothing, or both were one.
two strips of clear tape on verso and one of masking tape, iron gall ink | clear tape (a second tape) |
    tape=masking-rubber signs=
clear tape over old masking tape on letterpress | clear tape (a second tape) | tape=masking-rubber
brown gummed tape and clear tape on a map, lithograph | clear tape (a second tape) |
    signs=adhesive-colour=brown,water-adhesive=slimy
patches of paper tape and one of linen tape, etching | paper tape (a second tape) | tape=gummed-linen signs=
brown tape under masking tape, etching | brown tape (a second tape) | tape=masking-rubber signs=
clear tape on the front, clear tape on the back, etching | | signs=colour=clear
# Said for each other: glue, cement, adhesive. Any glue is one of a household, and white is what is seen.
contact glue on drawing, etching | | adhesive=polychloroprene-contact
celluloid glue on comic, offset | | adhesive=cellulose-nitrate-cement carrier=
instant adhesive on stamp, engraved | | adhesive=cyanoacrylate
household glue on newsprint | household, glue (which?) | adhesive=
white adhesive on a tape over pencil | | adhesive= signs=adhesive-colour=white
hinge glue brown on etching | | carrier=none-transfer signs=
# Any tape is called so: with "Klebeband" it was the one of yellowed film.
Klebeband, Offset | | tape= adhesive= medium=lithographic
ruban adhésif, gravure | | tape= medium=intaglio
masking tape, w/c on rag paper | | medium=watercolour
S/A label, etching | | tape=label-acrylic
tape falls off, newsprint | | signs=loose=lifts
two signatures in ballpoint, prints, masking tape on newsprint | prints (which?) | medium=ballpoint
postage stamp hinges on an etching | | tape=gummed-paper-starch medium=intaglio
tape over water-based ink | | medium=dye-writing also_media=felt-tip-water,stamp-pad
ruled notebook paper, typescript, tape | | also_media=typewriter medium=ruled-lines paper=paper-office
# A name of several words that is misspelt was only given back.
maskin tape, newsprint | maskin tape (Masking tape?) | adhesive=
rubber cemment on gouache | rubber cemment (Rubber cement?) | medium=gouache
iron gal ink, clear tape | iron gal ink (Iron gall ink?), ink (which?) | medium=
# Gone is a carrier that was lifted, and not one of which that is denied, wished, supposed or done by half;
# nor is it with the backing of a sheet.
I have not removed the carrier, masking tape over ballpoint | not removed | carrier=crepe-paper
haven't lifted the carrier yet, masking tape, toner | haven't lifted, yet | carrier=crepe-paper
never removed the tape, ballpoint | never removed | carrier=
nobody removed the film, masking tape over toner | nobody, film | carrier=crepe-paper
before I removed the carrier, masking tape over toner | before | carrier=crepe-paper
without having removed the carrier, masking tape over toner | without having | carrier=crepe-paper
if I removed the tape, toner | if | carrier=
half lifted the tape, toner | half, lifted | carrier=
removed the tape at one corner, toner | | carrier=
easily removed tape, toner | easily | carrier=
after removing the backing, masking tape over ballpoint | backing | carrier=crepe-paper
lined map, removed its backing, masking tape, toner | lined (line?), backing | carrier=crepe-paper
removed the backing board, masking tape over ballpoint | backing, board | carrier=crepe-paper
removed the film of dirt, masking tape over ballpoint | film, dirt | carrier=crepe-paper
tape lifted with difficulty, ballpoint | lifted, difficulty | carrier=
film peeled with ease at the edges, ballpoint | film, peeled, ease | carrier=
I want the masking tape removed with gel, ballpoint | want | carrier=crepe-paper method=gel
already removed the carrier, masking tape over toner | | carrier=none-transfer
almost no tape left, toner | almost, no tape | carrier=
I removed the carrier but not the adhesive, masking tape, toner | not the adhesive | carrier=none-transfer
does not stick after removing the carrier, toner | | carrier=none-transfer signs=tack=none
# What was done belongs to the way only where the way stands behind it, or was tried.
gel applied to masking tape over toner | | method=gel
poultice applied on starch paste, pencil | | method=local-poultice adhesive=starch-dextrin
poultice on masking tape on a drawn map | drawn | method=local-poultice
vapour chamber on cut tape over ballpoint | cut | method=vapour-dome
heated spatula on masking tape cut in two | cut | method=heated-spatula
suction table for a washed sheet with masking tape | washed | method=suction
gel on hand written letter in iron gall ink, masking tape | hand, written | method=gel medium=iron-gall
poultice on residue after the carrier is gone | | method=local-poultice carrier=none-transfer
masking tape, poultice failed, toner | failed | method=swab
after a poultice, masking tape over toner | | method=swab
gel was applied, masking tape over toner | | method=swab
cut tape with gel, toner | cut | method=gel
cut the tape with a scalpel, toner | cut | method=swab
masking tape removed by gel, toner | | method=gel
I plan to have the masking tape lifted by hot air, toner | lifted | method=hot-air
the carrier was not removed by hot air, masking tape, toner | not removed | method=hot-air carrier=crepe-paper
# What is not doubted was taken for denied.
beyond doubt masking tape over toner | | tape=masking-rubber
no real doubt it's masking tape | | tape=masking-rubber
without any doubt masking tape, toner | | tape=masking-rubber
hardly any doubt it is masking tape | | tape=masking-rubber
I do not doubt it is masking tape | | tape=masking-rubber
no reason to doubt masking tape, toner | | tape=masking-rubber
without a trace of doubt masking tape, toner | | tape=masking-rubber
in doubt masking tape over toner | | tape=masking-rubber
I can't believe the tape is still tacky, toner | can't believe | signs=tack=strong
# A colour behind a pencil says which, and graphite answers for none.
pencil, coloured, masking tape | | medium=coloured-pencil also_media=
pencil (coloured), masking tape | | medium=coloured-pencil also_media=
pencils, coloured | | medium=coloured-pencil also_media=
pencil, red and blue, masking tape | | medium=coloured-pencil also_media=
colour pencil, masking tape | | medium=coloured-pencil
coloured drawing, pencil, masking tape | coloured (which?) | medium=graphite
pencil, red tape, toner | | medium=graphite also_media=toner signs=colour=coloured
copying pencil, blue and red, masking tape | | medium=copying-pencil
pencil, yellow, brittle tape | | medium=graphite signs=adhesive-colour=amber,hardness=brittle
lead pencil, coloured, tape | coloured (which?) | medium=graphite
# What is left of a poultice is what is to go.
residue of methyl cellulose poultice on print | print (which?) | adhesive=cellulose-ether method=swab
starch paste poultice residue | | adhesive=starch-dextrin method=swab
residue from a methyl cellulose poultice, ballpoint | | adhesive=cellulose-ether method=swab
residue left by starch paste poultice, pencil | | adhesive=starch-dextrin
remove residue of tape with gel, toner | | carrier=none-transfer method=gel
gel, residue of masking tape, toner | | method=gel
# A print, and no light.
masking tape over toner (laser) | | medium=toner also_media= method=swab
print, laser | | medium=toner method=swab
photocopy (laser), masking tape | | medium=toner method=swab
laser on masking tape over toner | | medium=toner method=laser
masking tape over toner, laser | | medium=toner method=swab
toner, laser, masking tape | | medium=toner method=swab
laser toner, masking tape | | medium=toner method=swab
masking tape over toner, by laser | | medium=toner method=laser
masking tape over toner, laser, 532 nm | 532, nm | medium=toner method=laser
# A condition or a wish is no fact.
masking tape over toner, if the carrier is gone | if, carrier gone (not told as a fact) | carrier=crepe-paper
if carrier gone, masking tape | if, carrier gone (not told as a fact) | carrier=crepe-paper
what if the film has fallen off, masking tape | if, carrier gone (not told as a fact) | carrier=crepe-paper
I want the carrier gone, masking tape | want, carrier gone (not told as a fact) | carrier=crepe-paper
masking tape, carrier gone if possible | carrier gone (not told as a fact), if, possible | carrier=crepe-paper
if no carrier, masking tape, toner | if, no carrier (not told as a fact) | carrier=crepe-paper
now that the carrier is gone, masking tape | | carrier=none-transfer
can I use gel where the carrier is gone, masking tape | can | carrier=none-transfer method=gel
# What stands in brackets, or behind a noun that says too much, is of it: paint was a glue, and wax one.
paint (acrylic), masking tape | | medium=acrylic-paint adhesive=natural-rubber-resin
paint, acrylic, rag paper | | medium=acrylic-paint adhesive=
crayon (wax), masking tape | | medium=wax-crayon adhesive=natural-rubber-resin
crayon, wax | | medium=wax-crayon adhesive=
chalk, red, hide glue | | medium=red-chalk adhesive=animal-glue
marker, permanent | | medium=felt-tip-solvent also_media=
pen, gel, clear tape | | medium=gel-pen method=swab
photograph (cyanotype), tape | | medium=blueprint also_media=
tape: masking, ink: iron gall | | tape=masking-rubber medium=iron-gall
toner (colour laser), masking tape | | medium=toner method=swab
watercolour paint, gum arabic | | medium=watercolour adhesive=gum-arabic
masking tape and acrylic on etching | acrylic (a second adhesive) | adhesive=natural-rubber-resin
paper: newsprint; ink: none; tape: masking | | medium=bare-paper tape=masking-rubber paper=paper-woodpulp
print, starch paste, etching | | medium=intaglio adhesive=starch-dextrin
# Denied behind its name it was taken, and "ruled out" was ruled lines.
masking tape is ruled out, matt tape, toner | not masking tape | tape= medium=toner also_media=
masking tape isn't it - gummed paper, etching | not masking tape | tape=gummed-paper
masking tape unlikely, matt tape, toner | not masking tape | tape=
I'd rule out rubber, clear film tape, ballpoint | not rubber | adhesive=
it's masking tape, isn't it | isn't it | tape=masking-rubber
# Residue that lies under a tape tells nothing of its carrier.
masking tape over adhesive residue, toner | | carrier=crepe-paper
acrylic tape over rubber tape residue, ballpoint | | adhesive=acrylic carrier=
yellow residue under masking tape, etching | | carrier=crepe-paper
masking tape on a map with residue, toner | | carrier=none-transfer
masking tape residue on toner | | carrier=none-transfer
film fell off, yellow glue left, iron gall | glue (which?) | carrier=none-transfer adhesive=
    signs=adhesive-colour=amber
film fell off, glue left, iron gall | glue (which?) | carrier=none-transfer adhesive= signs=
# What another did, or what was tried, is no way of this test.
lifted with hot air by the previous restorer, residue, toner | lifted, previous, restorer | method=swab
previous restorer used a gel, masking tape, toner | previous, restorer | method=swab
already tried water gel, masking tape, toner | tried, water (a liquid) | method=swab
want to try gel with water, masking tape, toner | want, try, water (a liquid) | method=gel
# Gummed by its name, and said to stick by itself: it was wetted.
self adhesive linen tape, map | | tape= adhesive= carrier=cloth
pressure-sensitive brown paper tape on etching | | tape= adhesive= medium=intaglio
linen tape, self-adhesive, on etching | | tape= adhesive= carrier=cloth
linen tape on etching, self-adhesive label | | tape=gummed-linen
self-adhesive masking tape over toner | | tape=masking-rubber
# A measure tells nothing that the answer needs, and stood among what was not understood.
25 mm masking tape, 300 mm long, on 80 gsm newsprint | | tape=masking-rubber paper=paper-woodpulp
sheet 420 x 594 mm, 1 1/2" masking tape, pH 4.5 | 1 |
masking tape, 12, toner | 12 |
# As the trade abbreviates, and what it calls abroad. "Ruban gommé" was rubbed out.
IG ink on rag, WSP hinges | | medium=iron-gall adhesive=starch-dextrin
w.c. on rag w gummed paper hinges | | medium=watercolour tape=gummed-paper
b&w photo, masking tape | | medium=gelatin-silver also_media=
papier journal, ruban gommé | | tape=gummed-paper method=swab paper=paper-woodpulp
fiber based print, marbled endpaper, PVA | | medium=gelatin-silver paper=paper-marbled
Abdeckband, Kupferstich | | tape=masking-rubber medium=intaglio
colle d'amidon, eau-forte | | adhesive=starch-dextrin medium=intaglio
masking tape, vellum paper, toner |
    vellum paper: Prepared tracing paper or Writing and copying paper of chemical pulp (which?) | paper=
zebra tape, newsprint | zebra |
"""


@pytest.fixture
def studio(untouched: Studio) -> Studio:
    """Nobody here writes in it."""
    return untouched


@pytest.mark.parametrize(
    "row", [one for one in TAKEN.replace("\n    ", " ").strip().splitlines() if not one.startswith("#")]
)
def test_a_typed_line_is_understood(row: str, studio: Studio) -> None:
    typed, left, *fills = (part.strip() for part in row.split("|"))
    said = spoken(studio, typed)
    assert ", ".join(said.left) == left
    for name, _, value in (fill.partition("=") for part in fills for fill in part.split()):
        taken = getattr(said.question, name)
        taken = sorted(taken) if name == "signs" else taken
        assert (taken if isinstance(taken, str) else ",".join(taken)) == value


def test_what_is_told_by_hearsay_is_doubted_and_a_measure_is_said(studio: Studio) -> None:
    said = spoken(studio, "supposedly 25 mm masking tape; I'm told it is on iron gall")
    assert (said.unsure, said.left) == (("supposedly", "i'm told it is"), ())
    assert "25 mm = a measure, which the answer does not need" in said.sentence


@pytest.mark.parametrize("part", ["1 x ", "1 mm x ", "if the ", "about ", "a b c unlikely ", "linen tape, "])
def test_a_line_that_goes_on_and_on_is_read(part: str, studio: Studio) -> None:
    """A blank that two parts of a pattern may take doubles the ways at each figure: thirty took for ever."""
    assert spoken(studio, f"masking tape {part * 300}").question.tape == "masking-rubber"


def test_of_what_is_doubted_the_doubt_is_said(studio: Studio) -> None:
    """ "In doubt" was read as a denial, and of "I do not doubt" stood "not not"."""
    assert spoken(studio, "in doubt masking tape over toner").unsure == ("in doubt",)
    assert spoken(studio, "I do not doubt it is masking tape").unsure == ()


def test_of_a_line_of_unknown_words_some_are_looked_up(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two hundred took five seconds: each was looked up, and again with its neighbours."""
    looked = list[str]()

    def counted(conn: object, word: str, *_: object) -> list[object]:
        looked.append(word)
        return []

    monkeypatch.setattr("kb.desk.choose.grammar.find", counted)
    words = " ".join(f"zq{'x' * (n % 9)}{n}v ink" for n in range(200))
    assert len(spoken(studio, f"masking tape, {words}").left) == 201
    # A line is gone through twice where it names a glue.
    assert len(looked) <= 2 * (MOST_NEAR + 4 * MOST_BESIDE)


def test_what_bears_a_name_is_looked_up_once(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """A line that names a glue is gone through twice, and each stretch of its words was looked up twice."""
    looked = list[str]()

    def counted(known: Studio, phrase: str) -> tuple[str, set[str]]:
        looked.append(phrase)
        return as_borne(known, phrase)

    monkeypatch.setattr("kb.desk.choose.spoken.as_borne", counted)
    said = spoken(studio, "oily rubber tape over letterpress on wood pulp paper")
    assert (said.question.stage, len(looked)) == ("oily", len(set(looked)))


def test_no_order_of_words_ends_in_an_error(studio: Studio) -> None:
    """A strip of paper beside a named tape did."""
    draw = random.Random(7)
    names = [
        "masking tape",
        "linen tape",
        "paper",
        "foil",
        "glue",
        "pencil",
        "poultice",
        "brush",
        "clear tape",
    ]
    joins = ["tape", "tapes", "no", "not", "or", "and", "over", "of the", "after lifting the tape", ",", "("]
    for _ in range(150):
        line = " ".join(draw.choice(draw.choice((names, joins, sorted(SIGNS)))) for _ in range(9))
        with suppress(DeskError):
            assert spoken(studio, line).sentence


RAG_OR_OFFICE = "Rag paper with gelatin size or Writing and copying paper of chemical pulp"
"""Both are made on a wove mould or wire."""


# What is misspelt is asked about and never taken.
@pytest.mark.parametrize(
    ("typed", "left"),
    [
        (
            "masking tape, oily, over watercolur on wove papr",
            ("watercolur (Watercolour?)", "papr (paper?)", f"wove: {RAG_OR_OFFICE} (which?)"),
        ),
        ("duct tape over graphit", ("graphit (Graphite pencil?)",)),
        ("duct tape over zebra", ("zebra",)),
        ("duct tape on an office paper with hands", ("hands",)),
    ],
)
def test_a_slip_of_spelling_is_asked_back(typed: str, left: tuple[str, ...], studio: Studio) -> None:
    """The list is ranked without the word, so the nearest name stands in front of it."""
    said = spoken(studio, typed)
    assert said.left == left
    assert said.question.medium == ""
    assert said.sentence.startswith(f"Not understood and left out: {', '.join(left)}. ")


def test_the_closest_is_taken_in_one_step_and_what_is_missing_is_said(studio: Studio) -> None:
    """A medium may bar a liquid, so an answer without it must not look whole."""
    said = spoken(studio, "masking tape, oily, over watercolur on rag papr")
    assert said.without == ("medium",)
    for text in (said.sentence, said.brief):
        assert "The answer is not whole: it knows nothing of this medium." in text
    taken = spoken(studio, said.closest)
    assert (taken.question.medium, taken.question.paper, taken.left) == ("watercolour", "paper-rag", ())
    # What is close to nothing is only given back.
    assert (spoken(studio, "duct tape over zebra").closest, spoken(studio, "duct tape").missed) == ("", "")


# Words of the trade, one plain meaning each. Common practice, no source.
PLAIN = """
paper: office paper, copy paper, copier paper, printer paper, bond paper, typing paper, notebook paper
paper: writing paper, stationery, machine-made paper, laid, tracing, tracing vellum, watercolour paper
paper: news clippings, cardboard, RC print
medium: litho, collotype, photogravure, blue-black ink, rollerball, fineliner, stamp ink, ditto, hand colour
medium: body colour, hand-tinted, engravings, markers, photo paper
medium: colour photo, b&w photo, colour woodblock, mimeographed, photocopied
medium: grease pencil, offset ink, typewriter ink, printer's ink, stamp pad ink
medium: rubber stamped, inkjet photo, engraved, lithographed, blue-print, dot matrix printout, carbon copies
paper: coated stock
adhesive: fish glue, isinglass, school glue, beeswax, gum, wallpaper paste
adhesive: carpenter's glue, nitrocellulose cement
adhesive: wheat starch, emulsion glue, candle wax, dry mounted
tape: cellulose tape, water-soluble document repair tape
tape: gummed kraft tape, brown gummed kraft tape, stamp edging, medical tape, contact film
tape: self-stick album page
tape: stamp hinges, bandage, double stick tape, price sticker
carrier: carrier missing, carrier off, film gone
"""


@pytest.mark.parametrize(
    ("kind", "word"),
    [
        (kind, word)
        for kind, _, words in (row.partition(": ") for row in PLAIN.strip().splitlines())
        for word in words.split(", ")
    ],
)
def test_words_of_the_trade_fill_their_blank_and_no_other(kind: str, word: str, studio: Studio) -> None:
    """ "Watercolour paper" was a medium, and "stamp hinges" nothing."""
    said = spoken(studio, word)
    asked = said.question
    filled = {name for name in ("medium", "paper", "tape", "adhesive", "carrier") if getattr(asked, name)}
    filled = {kind} if kind == "tape" and asked.tape else filled
    filled |= {"adhesive"} if asked.may_be else set()
    assert (filled, said.left) == ({kind}, ())


@pytest.mark.parametrize(
    ("typed", "media"),
    [
        ("felt tip", {"felt-tip-water", "felt-tip-solvent"}),
        ("fountain pen", {"dye-writing", "iron-gall"}),
        ("dip pen", {"dye-writing", "iron-gall", "carbon-ink"}),
        (
            "photograph",
            {"gelatin-silver", "photo-dye", "albumen-print", "collodion-print", "uncoated-photograph"},
        ),
        ("wax seal", {"sealing-wax", "seal-beeswax"}),
        ("purple ink", {"dye-writing", "stamp-pad", "hectograph"}),
    ],
)
def test_of_media_that_share_a_name_the_worst_counts(typed: str, media: set[str], studio: Studio) -> None:
    """Left out, none of them would bar what harms it; and which one it is, is asked."""
    said = spoken(studio, f"masking tape over {typed} on newsprint")
    assert {said.question.medium, *said.question.also_media} == media
    assert "the worse counts; say which" in said.sentence


@pytest.mark.parametrize(
    ("typed", "media"),
    [
        ("gelatin silver photo", {"gelatin-silver"}),
        ("cabinet card, an albumen print", {"albumen-print"}),
        ("felt pen and permanent marker", {"felt-tip-water", "felt-tip-solvent"}),
    ],
)
def test_a_thing_whose_kind_is_named_is_of_that_kind(typed: str, media: set[str], studio: Studio) -> None:
    """Of a gelatin photograph all ketones were barred, for it might be collodion. Two pens are two inks."""
    said = spoken(studio, f"masking tape over {typed} on newsprint")
    assert {said.question.medium, *said.question.also_media} == media
    assert ("say which" in said.sentence) == (len(media) > 1)


@pytest.mark.parametrize(
    ("typed", "stage"),
    [
        ("masking tape, hard, on letterpress", "crosslinked"),
        ("rubber tape, no longer sticky, on letterpress", "crosslinked"),
        ("masking tape gone brown on letterpress", "crosslinked"),
        ("soft masking tape on letterpress", "oily"),
        ("yellowed masking tape on letterpress", "aged"),
        ("old acrylic tape on letterpress", "aged"),
        # What is said of the stage itself stands.
        ("fresh hard masking tape on letterpress", "fresh"),
        # The carrier may be of that colour, and glue is hard from its first day.
        ("brown masking tape on letterpress", ""),
        ("brown parcel tape on letterpress", ""),
        ("hard animal glue on letterpress", ""),
        ("clear acrylic tape on letterpress", ""),
        # Nor is what is seen of the paper, the ink or an object, or what is denied.
        ("masking tape on browned newsprint", ""),
        ("paper gone brown, masking tape over letterpress on newsprint", ""),
        ("brown iron gall ink gone brown under masking tape", ""),
        ("masking tape, hard to remove, over letterpress", ""),
        ("masking tape on hard card, letterpress", ""),
        ("hard pencil under masking tape", ""),
        ("masking tape over soft graphite", ""),
        ("masking tape on yellowed newsprint", ""),
        ("old map, masking tape on iron gall", ""),
        ("masking tape, very old, on iron gall", "aged"),
        ("masking tape, maybe old", "aged"),
        ("masking tape, old map, iron gall", ""),
        ("letterpress on brittle newsprint with masking tape", ""),
    ],
)
def test_what_is_seen_of_a_known_glue_tells_its_stage(typed: str, stage: str, studio: Studio) -> None:
    """Hard brown residue of masking tape was answered like fresh tape: heptane first, 55 % released.

    The stages are those of the table that identifies tapes.
    """
    said = spoken(studio, typed)
    assert (said.question.stage, said.left) == (stage, ())
    if stage == "crosslinked":
        assert "so cross-linked (stage three)" in said.sentence


def test_what_is_denied_is_given_back(studio: Studio) -> None:
    """ "Not hard" was taken for hard, and the tape for cross-linked."""
    said = spoken(studio, "masking tape, not hard, on letterpress")
    assert (said.question.stage, said.left) == ("", ("not hard",))


# A denial takes one thing, and what "or" joins to it; a medium or a paper only where it follows at once.
DENIALS = """
masking tape, not at all brittle | not at all brittle
masking tape, never became brittle | never became brittle
masking tape, wasn't brittle | wasn't brittle
masking tape isn't brittle on newsprint | isn't brittle | paper=paper-woodpulp
masking tape, no longer hard | no longer hard
masking tape, not hard and brittle, on newsprint | not hard and brittle | paper=paper-woodpulp
masking tape, neither hard nor brittle | neither hard nor brittle
masking tape, not really oily | not really oily
masking tape, not particularly sticky | not particularly sticky
non-oily masking tape | non-oily
unyellowed masking tape | unyellowed
not brittle masking tape with ballpoint | not brittle | medium=ballpoint
masking tape, no sticky residue on newsprint | no sticky residue | paper=paper-woodpulp
residue-free masking tape | residue-free
masking tape, not an oily residue | not an oily residue
masking tape, not an old tape | not an old tape
masking tape, not very old, on newsprint | not very old | paper=paper-woodpulp
never old masking tape on newsprint | never old | paper=paper-woodpulp
masking tape is not brittle and is oily | not brittle | stage=oily
masking tape, no longer sticky or brittle | not brittle | stage=crosslinked
masking tape, not only brittle but over ballpoint |  | stage=crosslinked medium=ballpoint
masking tape, not hard to remove, over ballpoint |  | medium=ballpoint
masking tape, not brittle. Over ballpoint | not brittle | medium=ballpoint
tape no longer yellow over ballpoint | no longer yellow | medium=ballpoint
tape not brittle but yellow over ballpoint | not brittle | medium=ballpoint signs=adhesive-colour=amber
tape, not acrylic or rubber, ballpoint | not acrylic or rubber | medium=ballpoint
tape, neither acrylic nor rubber, ballpoint | neither acrylic nor rubber | medium=ballpoint
neither acrylic, rubber nor silicone, ballpoint | neither acrylic rubber nor silicone | medium=ballpoint
tape isn't acrylic over ballpoint | isn't acrylic | medium=ballpoint
tape, not acrylic, rubber or silicone, ballpoint | not acrylic rubber or silicone | medium=ballpoint
tape, not yellow, brown or sticky, ballpoint | not yellow brown or sticky | medium=ballpoint
tape, not old, brittle or yellow, ballpoint | not old brittle or yellow | medium=ballpoint
tape, not old or very brittle, ballpoint | not old or very brittle | medium=ballpoint
tape, not yellow, brown or very sticky, ballpoint | not yellow brown or very sticky | medium=ballpoint
tape, not brittle or very yellow over ballpoint | not brittle or very yellow | medium=ballpoint
tape not sticky, very brittle or old on ballpoint | not very brittle or old | medium=ballpoint signs=tack=none
masking tape, not oily, now brittle or yellow | not oily | stage=crosslinked
masking tape, not old, very brittle, yellow | not old | stage=crosslinked
tape, not oily, brittle or yellow, ballpoint | not oily brittle or yellow | medium=ballpoint
tape not yellow, brown or old, ballpoint | not yellow brown or old | medium=ballpoint
tape not sticky, brittle or yellow | not brittle or yellow | signs=tack=none
tape not sticky, brittle, or old over ballpoint | not brittle or old | medium=ballpoint signs=tack=none
masking tape, not sticky, brittle, on newsprint |  | stage=crosslinked paper=paper-woodpulp
tape not sticky, yellow or blue pencil |  | medium=coloured-pencil signs=tack=none
tape not brown, yellow or blue pencil | not brown | medium=coloured-pencil
tape, not brittle, yellow or red ink below | not brittle, below | medium=dye-writing also_media=stamp-pad
masking tape, isn't brittle, soft or red pencil | isn't brittle | medium=coloured-pencil
tape not brittle, clear or black and white photograph | not brittle | medium=gelatin-silver
masking tape, not brittle, yellow or glossy paper | not brittle | paper=paper-coated
tape, not rubber, acrylic or white glue, ballpoint | not rubber acrylic or white glue | medium=ballpoint
tape, not cloth or clear film, ballpoint | not cloth or clear film | medium=ballpoint
tape not brittle, yellow or clear film, ballpoint | not brittle yellow or clear film | medium=ballpoint
tape, not clear film or yellow, ballpoint | not clear film or yellow | medium=ballpoint
no ballpoint or red ink, masking tape | no ballpoint or red ink
not red ink, masking tape | not red ink
not black ink, masking tape | not black, ink (which?)
tape not brittle, yellow or clear tape, ballpoint | not brittle yellow or clear tape | medium=ballpoint
tape, not yellow, brown, ballpoint | not yellow | medium=ballpoint signs=adhesive-colour=brown
masking tape on iron gall ink, no red or blue pencil | no red or blue pencil | medium=iron-gall
without blue or red pencil, rag paper | without blue or red pencil | paper=paper-rag
no black or red chalk; masking tape | no black or red chalk
no yellow or soft pastel, tape on newsprint | no yellow or soft pastel | paper=paper-woodpulp
masking tape, no brown or black and white photograph | no brown or black and white photograph
masking tape, no red, yellow or blue pencil | no red yellow or blue pencil
masking tape, neither red nor blue pencil | neither red nor blue pencil
tape, not yellow or blue pencil | not yellow | medium=coloured-pencil
masking tape, no ink, pencil only |  | medium=bare-paper also_media=graphite
masking tape, no ballpoint, pencil or pastel | no ballpoint | medium=graphite also_media=pastel-charcoal
no white paper tape, masking tape over ballpoint | no white paper | medium=ballpoint
no large white paper tape, ballpoint | no large white paper | medium=ballpoint
no masking tape or paper tape, ballpoint | no masking tape or paper | medium=ballpoint
no brown or white paper tape, ballpoint | no brown or white paper | medium=ballpoint
can I use acetone on ballpoint? | can, acetone (a liquid) | medium=ballpoint
hardened tape on newsprint |  | paper=paper-woodpulp stage=aged signs=hardness=brittle
electrical tape on a drawing, ink on newsprint | ink (which?) | paper=paper-woodpulp
tape, black, on newsprint |  | paper=paper-woodpulp signs=colour=black
tape on newsprint, black |  | paper=paper-woodpulp
anything but acrylic, ballpoint | anything but acrylic | medium=ballpoint
unlikely to be acrylic, ballpoint | unlikely to be acrylic | medium=ballpoint
not acrylic but rubber, ballpoint | not acrylic | adhesive=natural-rubber-resin medium=ballpoint
no ballpoint or iron gall ink, masking tape | no ballpoint or iron gall ink
masking tape, not over ballpoint | not over | medium=ballpoint
masking tape without any ballpoint | without any ballpoint
masking tape, neither ballpoint nor iron gall | neither ballpoint nor iron gall
masking tape on newsprint, except ballpoint | except | paper=paper-woodpulp medium=ballpoint
masking tape, not written in ballpoint | not written | medium=ballpoint
masking tape, no ink or watercolour | no watercolour | medium=bare-paper
masking tape, not on newsprint | not on | paper=paper-woodpulp
no carrier left on newsprint |  | carrier=none-transfer paper=paper-woodpulp
rubber, no carrier or ballpoint | no ballpoint | adhesive=natural-rubber-resin carrier=none-transfer
tape without residue over ballpoint | without residue | medium=ballpoint
masking tape, lift without harming ballpoint | without harming | medium=ballpoint
how to lift tape without harming or bleeding ballpoint? | how, without harming or bleeding | medium=ballpoint
masking tape, so as not to bleed ballpoint | so, not to bleed | medium=ballpoint
masking tape doesn't lift from newsprint | doesn't lift | paper=paper-woodpulp
masking tape, not lifting or oily | not lifting or oily
masking tape, no trace of ballpoint on newsprint | no trace of ballpoint | paper=paper-woodpulp
tape on letterpress, no date and a ballpoint signature | no date | medium=letterpress-oil also_media=ballpoint
paste on etching with no margins and a watercolour wash | no margins | medium=intaglio also_media=watercolour
masking tape over no longer legible iron gall ink | no longer legible | medium=iron-gall
masking tape on never exhibited watercolour | never exhibited | medium=watercolour
masking tape on not sized newsprint | not sized | paper=paper-woodpulp
masking tape barely touching iron gall ink | barely touching | medium=iron-gall
masking tape not quite reaching ballpoint | not quite reaching | medium=ballpoint
masking tape hardly visible over ballpoint | hardly visible | medium=ballpoint
remove masking tape without staining the newsprint | without staining | paper=paper-woodpulp
masking tape without risk to ballpoint | without risk | medium=ballpoint
masking tape, don't heat the newsprint | don't heat | paper=paper-woodpulp
masking tape, without image loss: ballpoint | without image, loss | medium=ballpoint
masking tape not yet tested: iron gall ink | not yet, tested | medium=iron-gall
masking tape no label next to ballpoint | no label, next | medium=ballpoint
masking tape on newsprint apart from ballpoint | apart from | paper=paper-woodpulp medium=ballpoint
anything but easy: masking tape on newsprint | anything but easy | paper=paper-woodpulp
masking tape on a label |
label of a specimen under clear tape, iron gall |  | medium=iron-gall signs=colour=clear
yellow tape on a luggage label, lithograph | luggage | medium=lithographic signs=adhesive-colour=amber
price label with masking tape | masking tape (a second tape)
clear tape on a map lined with starch paste | lined (line?) | signs=colour=clear
document repair tape on a map mounted with starch paste |
tape on a pastel fixed with casein |  | medium=pastel-charcoal
tape over an old repair with animal glue on newsprint |  | paper=paper-woodpulp
clear tape on an album page, pastel glued with rubber cement |  | medium=pastel-charcoal signs=colour=clear
clear tape on wax-lined newsprint | wax-lined | paper=paper-woodpulp signs=colour=clear
old paste repair under brittle tape | paste-repair | signs=hardness=brittle
masking tape, drawing lined with Japanese paper | lined (line?)
newsprint, gelatin size, clear tape | gelatin-size | paper=paper-woodpulp signs=colour=clear
animal glue lining on newsprint |  | adhesive=animal-glue paper=paper-woodpulp
etching lined with starch paste, no tape | lined (line?), no tape | adhesive=starch-dextrin medium=intaglio
paper tape stuck down with starch paste |  | adhesive=starch-dextrin
linen strip on the spine attached with animal glue |  | adhesive=animal-glue carrier=cloth
masking tape, verso blank |
blank verso, letterpress recto |  | medium=letterpress-oil
masking tape, no ink, no pencil on the back | no ink, no pencil
masking tape, no ink, pencil on the back |  | medium=bare-paper also_media=graphite
tape very sticky or soft on etching | sticky (or not?), soft (or not?) | medium=intaglio
the carrier has come off, tacky, on etching |  | carrier=none-transfer medium=intaglio signs=tack=strong
film fell off, yellow, on etching |  | carrier=none-transfer medium=intaglio signs=adhesive-colour=amber
some of the carrier is missing, yellow | missing | signs=adhesive-colour=amber
tape 40 years old, brittle | 40, years | stage=aged signs=hardness=brittle
tape over old hide glue on etching |  | medium=intaglio
hide glue under brittle tape, etching |  | medium=intaglio signs=hardness=brittle
etching & pencil, masking tape |  | medium=intaglio also_media=graphite
masking tape w/o residue | without residue
hinges of Japanese paper on newsprint | hinges (which?) | paper=paper-woodpulp
Japanese tissue hinge, methyl cellulose |  | adhesive=cellulose-ether
tape on an etching, stuck down with starch paste |  | adhesive=starch-dextrin medium=intaglio
etching, stuck down with starch paste, clear tape |  | medium=intaglio signs=colour=clear
tape based on rubber, etching |  | adhesive=natural-rubber-resin medium=intaglio
hard residue of masking tape on etching |  | stage=crosslinked carrier=none-transfer medium=intaglio
clear tape and animal glue, etching | animal glue (a second adhesive) | medium=intaglio signs=colour=clear
clear rubber tape, etching |  | adhesive=natural-rubber-resin medium=intaglio
matt paper tape with animal glue, etching |  | adhesive=animal-glue medium=intaglio
washi tape over gel pen | washi (Japanese paper?) | medium=gel-pen
masking tape or gummed tape, etching | gummed (or not?) | medium=intaglio
clear residue on ballpoint |  | medium=ballpoint carrier=none-transfer signs=adhesive-colour=clear
tape, not many years old, brittle | not many, years | signs=hardness=brittle
"""


@pytest.mark.parametrize("row", DENIALS.strip().splitlines())
def test_a_denial_takes_all_that_it_denies_and_no_more(row: str, studio: Studio) -> None:
    """ "Not at all brittle" was cross-linked, "neither acrylic nor rubber" acrylic."""
    typed, left, *fills = (part.strip() for part in row.split("|"))
    said = spoken(studio, typed)
    asked = said.question
    taken = {name: getattr(asked, name) for name in ("stage", "medium", "paper", "also_media")}
    taken |= {"signs": " ".join(asked.signs), "also_media": " ".join(asked.also_media)}
    # What a tape bears by its name is no word of the line.
    borne = studio.compiled.tapes.get(asked.tape, ("", "", ""))[1:]
    for name, of_tape in zip(("adhesive", "carrier"), borne, strict=True):
        taken[name] = getattr(asked, name).replace(of_tape or "\0", "")
    assert {name: value for name, value in taken.items() if value} == {
        name: value for name, _, value in (fill.partition("=") for part in fills for fill in part.split())
    }
    assert ", ".join(said.left) == left
    assert left in said.missed


def test_a_name_that_two_glues_bear_may_be_either(studio: Studio) -> None:
    """Hot melt is on parcel tape and in spines of paperbacks: both are weighed, and the sentence says so."""
    said = spoken(studio, "hot melt on newsprint with watercolor")
    assert said.left == ()
    assert {one.adhesive: one.weight for one in said.question.may_be} == {
        "hot-melt-sbc": 0.5,
        "eva-hot-melt": 0.5,
    }
    assert "Ethylene-vinyl acetate hot glue or Hot-melt styrenic block copolymer" in said.sentence
    assert choose(studio, said.question).question.may_be == said.question.may_be
    surely = spoken(studio, "EVA hot melt on newsprint").question
    assert (surely.adhesive, surely.may_be) == ("eva-hot-melt", ())


@pytest.mark.parametrize("denied", ["no tack", "not tacky", "No longer sticky", "does not stick"])
def test_what_is_denied_of_tack_is_a_sign(denied: str, studio: Studio) -> None:
    """The first that one looks at was left out, and "tacky" of "not tacky" would say the opposite."""
    asked = spoken(studio, f"clear glossy tape, {denied}, over iron gall ink")
    assert "tack=none" in asked.question.signs
    assert asked.left == ()
    assert seen(studio, f"clear glossy, {denied}").findings == {
        "colour": "clear",
        "gloss": "glossy",
        "tack": "none",
    }


def test_aged_is_no_word_against_rubber(studio: Studio) -> None:
    """An old yellow tape is a rubber tape as often as not: one word barred it, and water led at 81 %."""
    aged = spoken(studio, "aged yellow tape over letterpress on wood-pulp paper")
    assert not aged.closest
    averaged = components(studio, aged.question)
    stages = {one.question.stage for one in averaged if one.question.adhesive == "natural-rubber-resin"}
    assert stages == {"oily", "crosslinked"}
    assert not [one for one in averaged if studio.compiled.stages.get(one.question.stage) == 0]


def test_of_a_carrier_that_is_named_the_glue_is_looked_at(studio: Studio) -> None:
    """What holds foam may be acrylic or rubber; what the strip is made of was asked all the same."""
    asked = spoken(studio, "foam tape over letterpress on rag paper").question
    held_by = {one.question.adhesive for one in components(studio, asked)}
    assert held_by == {"acrylic", "synthetic-rubber"}
    answer = choose(studio, asked)
    assert answer.look_first.startswith("See what it is before any liquid: ")
    assert "made of" not in answer.look_first


@pytest.mark.parametrize(
    ("typed", "liquid", "said"),
    [
        ("rubber cement on a tintype", "acetone", "film of cellulose nitrate"),
        ("gummed tape, animal glue on silverpoint", "water", "ground swells and takes the line along"),
        ("masking tape, oily, over correction fluid", "xylene", "the words under it come up"),
        # An iron pigment and an azo dye are not alike: what harmed the one says nothing of the other.
        ("gummed tape, animal glue on cyanotype", "water", "its particles be carried off"),
        ("gummed tape, animal glue on dyeline", "water", "How the dye of a diazo print takes water"),
    ],
)
def test_what_new_media_forbid_is_said(typed: str, liquid: str, said: str, studio: Studio) -> None:
    """A stop names the liquid among those barred; a warning stands with its line."""
    answer = choose(studio, spoken(studio, typed).question, limit=500)
    shown = [one.text for one in answer.vetoed if one.liquid == liquid]
    shown += [
        text
        for one in (*answer.suggestions, *answer.refused)
        for text in one.cautions
        if one.liquid == liquid
    ]
    assert any(said in one for one in shown), (liquid, shown)


@pytest.mark.parametrize(
    ("typed", "may_be"),
    [
        ("label, hot melt, newsprint", {"hot-melt-sbc", "eva-hot-melt"}),
        ("paste or gum, rag paper", {"flour-paste", "starch-dextrin", "gum-arabic"}),
        ("could be animal glue or starch paste", {"animal-glue", "starch-dextrin"}),
        # Of a glue that is not named what is denied is none of those that it usually is.
        ("glue, not PVAC, on rag paper", {"animal-glue", "flour-paste", "starch-dextrin"}),
        ("glue, not starch, on rag paper", {"animal-glue", "pvac-emulsion"}),
        ("glue, not gelatin sized paper", {"animal-glue", "flour-paste", "starch-dextrin", "pvac-emulsion"}),
        ("glue, probably not animal, rag paper", {"flour-paste", "starch-dextrin", "pvac-emulsion"}),
        ("non-animal glue on rag paper", {"flour-paste", "starch-dextrin", "pvac-emulsion"}),
    ],
)
def test_of_glues_with_or_between_them_it_may_be_either(typed: str, may_be: set[str], studio: Studio) -> None:
    """A hot-melt label was answered as acrylic, and of "paste or gum" the paste was dropped."""
    asked = spoken(studio, typed).question
    assert (asked.adhesive, {one.adhesive for one in asked.may_be}) == ("", may_be)


@pytest.mark.parametrize(
    ("typed", "signs"),
    [
        ("blue tape over ballpoint", {"colour=coloured"}),
        ("white tape with blue edges over ballpoint", {"colour=white"}),
        ("tape over blue ballpoint", set()),
        ("tape over a blue crayon drawing, ballpoint", set()),
        ("brown paper strip over brown ballpoint", {"colour=tan", "made-of=paper"}),
        ("brown tape over ballpoint", {"colour=tan"}),
        ("tape gone brown over ballpoint", {"adhesive-colour=brown"}),
        ("brown tape stain over ballpoint", {"adhesive-colour=brown"}),
        ("clear brown tape over ballpoint", {"colour=clear", "adhesive-colour=brown"}),
        ("ballpoint on paper taped at the corners", set()),
        ("ballpoint, paper, tape", set()),
        # What names nothing stands between neither: a sign goes past it.
        ("tape already brittle, ballpoint", {"hardness=brittle"}),
        ("sticky layer of adhesive over ballpoint", {"tack=strong"}),
        ("brittle narrow clear tape over ballpoint", {"hardness=brittle", "colour=clear"}),
        ("tape 20 mm wide, brittle, over ballpoint", {"hardness=brittle"}),
        ("tape over ballpoint, no longer clear, dark yellow or orange", {"adhesive-colour=amber"}),
    ],
)
def test_a_colour_is_of_the_tape_or_of_what_it_lies_on(typed: str, signs: set[str], studio: Studio) -> None:
    """Only of the tape it tells what that may be; it was not understood at all."""
    said = spoken(studio, typed)
    assert set(said.question.signs) == signs
    assert not [one for one in said.left if "blue" in one or "brown" in one or "white" in one]


@pytest.mark.parametrize(
    ("typed", "signs"),
    [
        ("letter signed in black, clear tape", {"colour=clear"}),
        ("tape over a letter, signed in black", set()),
        ("clear tape, annotated in red", {"colour=clear"}),
        ("tape on a map written in purple", set()),
        ("tape over a letter stamped in violet", set()),
        ("tape on a map, rivers in blue", set()),
        ("tape, red underlining", set()),
        ("tape with black mould spots", set()),
        ("tape, white bloom", set()),
        ("black patch on newsprint, tape", set()),
        ("clear tape, green leather binding", {"colour=clear"}),
        ("black on white, tape", set()),
        ("tape on a letter from Mr Green", set()),
        ("tape is black, over ballpoint", {"colour=black"}),
        ("tape was black and glossy, over ballpoint", {"colour=black", "gloss=glossy"}),
        ("white matt tape over ballpoint", {"colour=white", "gloss=frosted"}),
        ("white paper strip over ballpoint", {"colour=white", "made-of=paper"}),
    ],
)
def test_a_colour_of_the_writing_is_not_that_of_the_tape(typed: str, signs: set[str], studio: Studio) -> None:
    """Ink and mould bear it as often: "signed in black" made the tape black, and "clear" was left out."""
    said = spoken(studio, typed)
    assert set(said.question.signs) == signs
    assert "a second colour" not in said.sentence


@pytest.mark.parametrize(
    ("typed", "left"),
    [
        ("old glue patch on rag paper over etching", ()),
        ("Glue on parchment", ()),
        ("GLUE ON PARCHMENT", ()),
        ("glue residue on parchment", ()),
        ("glue drip on parchment", ()),
        ("glues on parchment", ()),
        ("no tape, only glue, on parchment", ("no tape",)),
        ("glue, not Tape, on parchment", ("not Tape",)),
        ("glue (no tape) on parchment", ("no tape",)),
        ("brittle glue on parchment", ()),
        ("hardened glue on parchment", ()),
        ("dried glue on parchment", ("dried",)),
        ("water-soluble glue on parchment", ("water (a liquid)", "soluble")),
        ("unyellowed glue on parchment", ("unyellowed",)),
        ("glue on parchment, zebra", ("zebra",)),
        # What the paper is near, or one would put on it, makes no other glue of it.
        ("glue on parchment, oil, alcohol, heat", ("oil", "alcohol (a liquid)", "heat")),
    ],
)
def test_a_glue_of_no_tape_is_not_averaged_over_tapes(
    typed: str, left: tuple[str, ...], studio: Studio
) -> None:
    """Xylene led for "old glue patch" on parchment; for "Glue" and "glue residue" it did so still."""
    said = spoken(studio, typed)
    asked = said.question
    assert said.left == left
    usual = {"animal-glue", "starch-dextrin", "flour-paste", "pvac-emulsion"}
    assert ({one.adhesive for one in asked.may_be}, asked.signs) == (usual, ())
    taken = "taken for animal glue, starch paste, flour paste or PVAC, as it is not said which"
    assert taken in said.sentence
    assert taken in said.brief


@pytest.mark.parametrize(
    "typed",
    [
        "glue of an old tape on rag paper",
        "Glue residue of a Tape on rag paper",
        "soft glue on rag paper",
        "glue-sized rag paper",
        "glue sized rag paper",
        "no tape or glue, rag paper",
        # What qualifies it may make it one that no water softens, and one that is left is not named by that.
        "contact glue on red pencil, rag paper",
        "self-adhesive glue on red pencil, rag paper",
        "pressure-sensitive glue on rag paper",
        "solvent glue on rag paper",
        "thermoplastic glue on rag paper",
        "glue gun on rag paper",
        "rubbery glue on rag paper",
        "nitrate type glue on rag paper",
        "waxy glue on rag paper",
        "glue is very waxy, rag paper",
        "UV glue on rag paper",
        "glue, probably nitrate, on rag paper",
        "cellulose glue on rag paper",
        "non-aqueous glue on rag paper",
        "glue on rag paper, insoluble in water",
        "glue not water-soluble, rag paper",
        "glue, not water soluble, on rag paper",
        "glue, soluble in acetone, on rag paper",
        "glue from film, rag paper",
        # By the name of another glue in the catalogue, wherever in the line it stands.
        "glue on rag paper, contact",
        "glue, not animal glue or starch, on red pencil, rag paper",
    ],
)
def test_a_glue_of_a_tape_or_of_the_paper_is_not_taken_for_paste(typed: str, studio: Studio) -> None:
    said = spoken(studio, typed)
    assert "animal glue, starch paste" not in said.sentence
    assert said.question.may_be == () or said.question.signs


def test_a_glue_that_is_not_named_says_what_it_is_averaged_over(studio: Studio) -> None:
    """ "Its signs" were said of a line that told of none."""
    answer = choose(studio, spoken(studio, "glue on rag paper over etching").question)
    assert answer.groups[0].liquid == "water"
    assert "Averaged over 4 things it may be." in answer.rests_on
    # On its own it has no carrier that could be lifted first; and what is denied was not left out.
    stopped = choose(studio, spoken(studio, "glue on iron gall ink").question).stop
    assert stopped is not None
    assert "carrier" not in stopped.text
    said = spoken(studio, "glue, not animal glue, on pencil")
    assert ("not animal glue = ruled out" in said.sentence, said.left) == (True, ())


def test_signs_beside_the_line_are_as_those_in_it(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """With --sign paste was averaged over tapes again, and a sign typed in the line was forgotten."""

    def shown(typed: str, **signs: str) -> Spoken:
        return spoken(studio, typed, with_signs(studio, Question(), signs))

    glue = shown("glue on rag paper", tack="none")
    assert [one.adhesive for one in glue.question.may_be] == [*GLUES]
    assert "tack=none = nothing of which glue" in glue.sentence
    # What sticks is of a tape.
    assert shown("glue on rag paper", tack="strong").question.signs == ("tack=strong",)
    tape = shown("brittle tape over pencil", gloss="glossy")
    assert set(tape.question.signs) == {"hardness=brittle", "gloss=glossy"}
    twice = shown("brittle tape over pencil", hardness="soft")
    assert (twice.question.signs, twice.left) == (
        ("hardness=brittle",),
        ("hardness=soft (a second hardness)",),
    )
    named = shown("masking tape over pencil", gloss="glossy").question
    assert (named.adhesive, named.may_be, named.signs) == ("natural-rubber-resin", (), ())
    words = ["glue on rag paper over etching", "--sign", "tack=none", "--studio", str(studio.root)]
    assert main(["choose", *words]) == 0
    assert "taken for animal glue, starch paste" in " ".join(capsys.readouterr().out.split())


def test_a_word_of_doubt_is_said(studio: Studio) -> None:
    """It was left out, and nobody was told that what follows it is taken all the same."""
    said = spoken(studio, "maybe masking tape over ballpoint, looks like toner")
    assert (said.question.tape, said.left) == ("masking-rubber", ())
    assert 'Taken as if it were sure, in spite of "maybe", "looks like".' in said.brief
    assert "spite" not in spoken(studio, "masking tape").brief


@pytest.mark.parametrize(
    ("typed", "doubt"),
    [
        ("masking tape? over ballpoint", "tape?"),
        ("not sure, masking tape", "not sure"),
        ("I am not sure whether masking tape", "i am not sure whether"),
        ("unsure, masking tape", "unsure"),
        ("masking tape, I believe", "i believe"),
        ("suspected masking tape", "suspected"),
        ("not known if masking tape", "not known if"),
    ],
)
def test_every_word_of_doubt_is_said(typed: str, doubt: str, studio: Studio) -> None:
    """Of "not sure" only "not" was understood, as a denial of what stood behind it."""
    said = spoken(studio, typed)
    assert (said.question.tape, said.left, said.unsure) == ("masking-rubber", (), (doubt,))


@pytest.mark.parametrize("typed", ["silicon adhesive on a poster", "magazine page with removable tape"])
def test_where_nothing_is_understood_the_nearest_is_said(typed: str, studio: Studio) -> None:
    """One letter too few, and the answer was only that nothing was understood."""
    with pytest.raises(DeskError, match=r"Silicone, pressure-sensitive\?|Clay-coated paper or .*which\?"):
        spoken(studio, typed)


def test_no_word_is_said_twice_in_what_was_understood(studio: Studio) -> None:
    """ "Paper Rag paper with gelatin size" was read as a slip."""
    said = spoken(studio, "masking tape on rag paper over ballpoint").sentence
    assert "rag paper = Rag paper with gelatin size" in said
    assert "ballpoint = medium Ballpoint pen ink" in said


def test_words_that_need_no_answer_are_no_signs_and_ask_nothing() -> None:
    """Each word is of one sort, so that the order of the tests in the code decides nothing."""
    assert not SIGNS.keys() & LINKS
    assert not SIGNS.keys() & WHICH.keys()
    assert not WHICH.keys() & LINKS


@pytest.mark.parametrize(
    ("typed", "found", "left"),
    [
        (
            "clear glossy film, amber, brittle",
            {
                "colour": "clear",
                "gloss": "glossy",
                "made-of": "film",
                "adhesive-colour": "amber",
                "hardness": "brittle",
            },
            (),
        ),
        (
            "cloth tape, yellowed, sticky",
            {"made-of": "cloth", "adhesive-colour": "amber", "tack": "strong"},
            (),
        ),
        ("not brittle, zzyxq, matt", {"gloss": "frosted"}, ("not brittle", "zzyxq")),
        ("not at all brittle or hard, matt", {"gloss": "frosted"}, ("not at all brittle or hard",)),
        ("isn't yellow but matt", {"gloss": "frosted"}, ("isn't yellow",)),
        ("brittle soft", {"hardness": "brittle"}, ("soft",)),
        ("hardly yellowed, matt", {"gloss": "frosted"}, ("hardly yellowed",)),
        ("not stretchy clear glossy", {"colour": "clear", "gloss": "glossy"}, ("not stretchy",)),
        ("dark brown", {"adhesive-colour": "brown"}, ()),
        (
            "brown paper, white adhesive",
            {"colour": "tan", "made-of": "paper", "adhesive-colour": "white"},
            (),
        ),
        (
            "does not stretch, rubbery, 1950s",
            {"stretch": "not-at-all", "hardness": "rubbery", "year": "from-1946"},
            (),
        ),
    ],
)
def test_what_one_sees_answers_the_looks(
    studio: Studio, typed: str, found: dict[str, str], left: tuple[str, ...]
) -> None:
    """Each word for a finding answers its look; a denial and a second answer are left and said."""
    answer = seen(studio, typed)
    assert (answer.findings, answer.left) == (found, left)
    assert all(word in answer.sentence for word in left)


def test_a_way_that_the_sheet_does_not_bear_is_not_advised(studio: Studio) -> None:
    """Loose powder goes with a swab; an emulsion wants a trial before a hot tool, and its gel no water."""
    powder = choose(studio, spoken(studio, "wheat paste, charcoal, rag paper").question)
    assert "Test first: Water. Not by swab here: work from the back, or use vapour" in powder.next_step
    held = choose(studio, spoken(studio, "wheat paste, letterpress, rag paper").question)
    assert "Test first: Water, by swab." in held.next_step
    mounted = choose(studio, spoken(studio, "dry mount, silver gelatin print, rag paper").question)
    assert mounted.stop is not None
    assert "a damp gel" not in mounted.stop.text
    assert "after a trial of its warmth on gelatin silver photograph" in mounted.stop.text
    assert first_in_short(mounted) == "Mind: A photograph needs a photograph conservator."
    assert first_in_short(powder).startswith("Mind: The powder lies loose")
    assert first_in_short(held) == ""


def test_the_figures_that_are_the_own_choice_of_this_project_say_so() -> None:
    """Caps and likenesses stood there as if they were measured."""
    body = ast.parse(Path(grammar.__file__).read_text()).body
    figures = [
        told.value.value
        for one, told in pairwise(body)
        if isinstance(one, ast.Assign) and isinstance(told, ast.Expr)
        for value in getattr(one.value, "elts", [one.value])[:1]
        if isinstance(value, ast.Constant) and isinstance(value.value, int | float)
    ]
    assert len(figures) == 7
    assert all("this project's own" in " ".join(told.casefold().split()) for told in figures)
