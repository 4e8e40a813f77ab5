from tests.make_protocols import *
from tests.make_stores import bleach, batch_of, copper
from tests.make_lots import *
import json
def test_sheet(api):
    bleach(api)
    batch_of(api,"thiosulfate",500,"g"); batch_of(api,"potassium-alum",1000,"g",at=hours_ago(23.9))
    print(json.dumps(sheet(api,"bleach-dip",10),indent=1))
def test_run(api, database):
    batch_of(api,"potassium-alum",1000,"g",at=hours_ago(23.9))
    t=tub(database,"T1"); lot=received_lot(api, hours=22)
    body={"protocol":"alum-soak","version":1,"tub_id":t,"lot_ids":[lot["id"]],"at":hours_ago(19)}
    tr=api.grower.made("/treatments",body)
    p=f"/treatments/{tr['id']}"
    api.grower.made(p+"/steps/1/start",{"at":hours_ago(18.9)})
    api.grower.made(p+"/steps/1/finish",{"at":hours_ago(18.8)})
    x=api.grower.made(p+"/steps/2/start",{"at":hours_ago(18.7)})
    print(json.dumps(x["steps"][1],indent=1))
    r=api.grower.post(p+"/steps/2/finish",{"at":hours_ago(18.6)}); print(r.get_json())
    api.grower.made(p+"/steps/2/finish",{"at":hours_ago(18.6),"departure":"tub broke"})
    for n in (3,4):
        api.grower.made(p+f"/steps/{n}/start",{"at":hours_ago(18.6-n/10+.01)}); api.grower.made(p+f"/steps/{n}/finish",{"at":hours_ago(18.6-n/10)})
    x=api.grower.made(p+"/finish",{})
    print(api.grower.made(f"/tubs/{t}/water-changes",{}))
    print(api.grower.seen("/treatments"))
