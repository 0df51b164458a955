"""The six lessons: aim, time, what is predicted, tried, made at the bench, and asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from labkit.formula import Formula, Phase
from labkit.teach import acids, amounts, faults, flow, oils, planning, predictions
from labkit.teach.predictions import Prediction
from labkit.teach.questions import Question
from labkit.teach.variants import Draw

__all__ = ["PLANS", "LessonPlan", "Station"]

Exercise = Callable[[Draw], Question]


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A bench exercise: what it needs, its steps, and what is written down."""

    title: str
    batch: str
    needs: tuple[str, ...]
    steps: tuple[str, ...]
    readings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonPlan:
    """One lesson of 90 minutes."""

    number: int
    title: str
    aim: str
    timetable: tuple[tuple[int, str], ...]
    recipe: str
    prediction: Prediction
    station: Station
    exercises: tuple[Exercise, ...]
    watch: tuple[str, ...]

    @property
    def formula(self) -> Formula:
        """The recipe that is tried on the mixing sheet and made at the bench."""
        return Formula.parse(
            f"phase,material,percent\n{self.recipe}", name=self.station.title, phases=_PHASES
        )


_PHASES = (
    Phase(key="A", title="Water phase"),
    Phase(key="B", title="Second phase"),
    Phase(key="C", title="Last"),
)
_USUAL = (
    (10, "Aim, and the prediction: everybody writes one down"),
    (20, "The mixing sheet: try it, compare with the prediction"),
    (40, "At the station: weigh, make, measure, write down at once"),
    (15, "Questions with your own numbers"),
    (5, "Hand in, clean the balance"),
)

PLANS: tuple[LessonPlan, ...] = (
    LessonPlan(
        number=1,
        title="Percentages and phases",
        aim="Turn percent into grams and back, and know what 'of what' means.",
        timetable=_USUAL,
        recipe="A,Aqua,q.s.\nA,Glycerin,4\nA,Xanthan gum,0.4\nB,Sunflower oil,10\n"
        "B,Cetearyl alcohol,3\nB,Polysorbate 60,3\nC,Phenoxyethanol,0.9",
        prediction=Prediction(
            text="Glycerin goes up by 3 %, and water is the q.s. line. What does water do?",
            choices=("it stays", "it falls by 3", "it falls by 7"),
            decide=predictions.water,
        ),
        station=Station(
            title="Weighing to a total",
            batch="100 g",
            needs=("balance, 0.01 g", "beaker 250 mL", "spatula for each material"),
            steps=(
                "Weigh the empty beaker and write it down.",
                "Weigh the water phase only, line by line; write what the balance says, "
                "not what it should say.",
                "Work out the finished percentages from what you weighed.",
                "One of you weighs 0.05 g of glycerin five times; write all five.",
            ),
            readings=("beaker, empty [g]", "water phase weighed [g]", "0.05 g, five times [g]"),
        ),
        exercises=(
            amounts.grams_of_a_line,
            amounts.water_to_the_rest,
            amounts.share_of_a_phase,
            amounts.stock_for_a_pinch,
        ),
        watch=(
            "Percent of the oil phase taken for percent of the cream.",
            "Grams that are right for 100 g only.",
            "The five weighings of 0.05 g: let the class see how far one digit reaches.",
        ),
    ),
    LessonPlan(
        number=2,
        title="Emulsions and HLB",
        aim="Work out what an oil phase asks for, blend a pair to it, and know where HLB ends.",
        timetable=_USUAL,
        recipe="A,Aqua,q.s.\nA,Glycerin,3\nB,Sunflower oil,12\nB,Mineral oil,3\n"
        "B,Polysorbate 60,2\nB,Sorbitan stearate,2\nB,Cetearyl alcohol,2\nC,Phenoxyethanol,0.9",
        prediction=Prediction(
            text="6 % of the sunflower oil makes room for mineral oil. What does the required "
            "HLB do?",
            choices=("it falls", "it stays", "it rises"),
            decide=predictions.required,
        ),
        station=Station(
            title="Two emulsions, one pair",
            batch="100 g",
            needs=("water bath at 75 °C", "two beakers", "stick blender", "centrifuge or a shelf"),
            steps=(
                "Heat both phases to 75 °C; reach it together.",
                "Oil phase into water phase while stirring, 3 min blender, then slow by hand.",
                "Below 40 °C the last phase, 5 min by hand.",
                "Next group: the same with the two emulsifiers exchanged in amount.",
                "Look after 24 h: cream line in mm, a drop under the microscope.",
            ),
            readings=("cream line after 24 h [mm]", "widest drop seen [µm]", "words for it"),
        ),
        exercises=(
            oils.required_value,
            oils.share_of_a_pair,
            oils.grams_of_a_pair,
            oils.out_of_reach,
        ),
        watch=(
            "Water averaged into the required HLB.",
            "Published required values differ: the answer is a band, not a decimal.",
            "HLB speaks of nonionics only; quats and soaps stay out of the average.",
        ),
    ),
    LessonPlan(
        number=3,
        title="pH and preservation",
        aim="See how much of a preservative works at a pH, and bring a pH there from a sample.",
        timetable=_USUAL,
        recipe="A,Aqua,q.s.\nA,Glycerin,4\nA,Sodium benzoate,0.5\nB,Xanthan gum,0.4\n"
        "C,Lactic acid 80 %,0.1",
        prediction=Prediction(
            text="0.3 % more lactic acid. What does the un-ionised part of the benzoate do?",
            choices=("it falls", "it stays", "it rises"),
            decide=predictions.working,
        ),
        station=Station(
            title="A pH from a sample",
            batch="150 g",
            needs=("pH meter, calibrated today", "lactic acid stock, 10 %", "pipette", "goggles"),
            steps=(
                "Goggles and gloves on before the stock is opened.",
                "Make the gel without the last phase. Read the pH at 25 °C, three times.",
                "Take 10 g; add stock drop by drop to pH 4.8; write the grams.",
                "Work out the dose for what is left; add three quarters, mix, wait, read.",
                "Add the rest. Read three times.",
            ),
            readings=("pH before, three times", "stock on 10 g [g]", "pH after, three times"),
        ),
        exercises=(
            acids.working_share,
            acids.fall_of_the_share,
            acids.as_acid,
            acids.dose_from_a_sample,
        ),
        watch=(
            "pKa minus pH in place of pH minus pKa.",
            "A meter that was not calibrated today explains most odd groups.",
            "These are numbers on paper. Whether a product keeps is shown by a challenge test.",
        ),
    ),
    LessonPlan(
        number=4,
        title="Thickness without and with a viscometer",
        aim="Compare thickness by drain time and by dial, and only like with like.",
        timetable=_USUAL,
        recipe="A,Aqua,q.s.\nA,Glycerin,4\nA,Xanthan gum,0.6\nC,Phenoxyethanol,0.9",
        prediction=Prediction(
            text="A gel with flow index 0.3 is read ten times faster. The reading becomes …",
            choices=("about the same", "about half", "about a fifth"),
            decide=predictions.by_index,
        ),
        station=Station(
            title="One gel, three ways",
            batch="200 g",
            needs=("cup with a hole", "stopwatch", "thermometer", "viscometer, if there is one"),
            steps=(
                "Sprinkle xanthan into glycerin, add to water while stirring, wait 30 min.",
                "Bring it to 25 °C and write the temperature.",
                "Drain time of 50 mL, three times.",
                "Two glass plates, 1 g, 100 g on top, 1 min: width in mm.",
                "With a viscometer: 5 and 50 rpm, same spindle, dial between 10 and 90 %.",
            ),
            readings=(
                "temperature [°C]",
                "drain time, three times [s]",
                "spread [mm]",
                "viscosity at 5 and 50 rpm [mPa·s]",
            ),
        ),
        exercises=(flow.dial_reading, flow.drain_ratio, flow.flow_index, flow.like_with_like),
        watch=(
            "Pa·s written as mPa·s: a thousand times off, and the class table shows it.",
            "Readings at different speeds put on one line.",
            "Air in the gel; a cup that was not wiped.",
        ),
    ),
    LessonPlan(
        number=5,
        title="What can go wrong",
        aim="Find what is wrong with a recipe on paper, before it is in the beaker.",
        timetable=_USUAL,
        recipe="A,Aqua,q.s.\nA,Glycerin,4\nA,Carbomer,0.3\nB,Phenoxyethanol,0.9",
        prediction=Prediction(
            text="1 % of sodium lactate goes into a carbomer gel. What does the check name?",
            choices=("nothing new", "one line", "two lines together"),
            decide=predictions.found_together,
        ),
        station=Station(
            title="A clash in a test tube",
            batch="50 g",
            needs=(
                "four test tubes",
                "the gel, ready made and neutralised",
                "salt stock, 20 %",
                "quat stock, 2 %",
                "goggles",
            ),
            steps=(
                "Goggles on. 10 g of gel into each tube.",
                "Tube 1 as it is. Tube 2: ten drops of water. Tube 3: ten drops of salt stock. "
                "Tube 4: ten drops of quat stock.",
                "Turn each ten times. Write what you see after 1 and after 10 minutes.",
                "Say which mechanism it was before you look it up.",
            ),
            readings=("tube 2", "tube 3", "tube 4"),
        ),
        exercises=(
            faults.planted_fault,
            faults.missing_share,
            faults.steam,
            faults.restore_what_fell,
        ),
        watch=(
            "More emulsifier as the answer to everything: first name the cause.",
            "A check on paper finds what it was told about; silence is no proof.",
            "Hold water and 'tube 2' dear: without it nobody knows what ten drops alone do.",
        ),
    ),
    LessonPlan(
        number=6,
        title="Planning trials and reading a history",
        aim="Ask one question a trial, know the noise, and read what was done before.",
        timetable=_USUAL,
        recipe="A,Aqua,q.s.\nA,Glycerin,4\nB,Sunflower oil,10\nB,Cetearyl alcohol,3\n"
        "B,Polysorbate 60,3\nC,Xanthan gum,0.3\nC,Phenoxyethanol,0.9",
        prediction=Prediction(
            text="Four readings are averaged in place of one. What does the error of the mean do?",
            choices=("it stays", "it halves", "it falls to a quarter"),
            decide=predictions.by_mean,
        ),
        station=Station(
            title="How well do we repeat?",
            batch="100 g",
            needs=("one jar for every two groups", "pH meter, calibrated today", "stopwatch, cup"),
            steps=(
                "Each of you reads the same jar three times; nobody looks at the others' numbers.",
                "Rinse and wipe between readings.",
                "Everybody's readings go to the desk at once.",
                "Guess: is the spread between people larger than one person's own?",
            ),
            readings=("pH, three times", "drain time, three times [s]", "the guess"),
        ),
        exercises=(
            planning.one_change,
            planning.effect_of_a_line,
            planning.repeat_spread,
            planning.times_to_repeat,
        ),
        watch=(
            "Two changes in one trial.",
            "A difference smaller than the noise, believed.",
            "The best trial edited in place: then nobody knows what was in the jar.",
        ),
    ),
)
"""The course, in order. Timetables and station steps are common practice."""
